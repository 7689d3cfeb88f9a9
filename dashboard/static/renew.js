// @ts-check
// Renew keeps the marked parts of a page that has no stream up to date: it
// fetches the page itself now and then and grafts what differs. What a person
// is writing stays, unless the page has become another one: then it is loaded
// anew, since what stands there is over. It stops while the page is hidden, and
// says when the machine can't be reached or has no fresh readings.

import { graft } from "./graft.js";

/** From one look to the next, in ms. */
const EVERY = 700;
/** Nothing fresh for this long counts as lost, in ms. */
const LOST_AFTER = 2000;

const lost = /** @type {HTMLElement} */ (document.getElementById("lost"));
/** The page's own address; that of a form it came back from is another. */
const here = document.body.dataset.here ?? location.pathname + location.search;
/** When the machine last answered, and when the readings on the page were fresh. */
let lastGood = performance.now();
let lastFresh = lastGood - ageOf(document);
let asking = false;
/** Until when a form's answer is waited for: it shows the page that comes next,
 * with what it says, and a look must not be quicker. */
let answerUntil = 0;

/** How long a form's answer may take, in ms. */
const ANSWER_WITHIN = 8000;

/**
 * How old the readings of a page are, in ms; 0 where they may be called now.
 * @param {Document} page
 */
function ageOf(page) {
  return 1000 * Number(page.body.dataset.old ?? 0);
}

/** Looks once, and stops looking where the page is left. */
async function look() {
  if (asking || document.hidden || performance.now() < answerUntil) return;
  asking = true;
  try {
    const resp = await fetch(here, { signal: AbortSignal.timeout(LOST_AFTER) });
    const page = new DOMParser().parseFromString(await resp.text(), "text/html");
    if (performance.now() < answerUntil) {
      asking = false;
      return;
    }
    if (resp.status === 401 || resp.ok && !renew(page)) {
      location.replace(here);
      return;
    }
    if (resp.ok) {
      lastGood = performance.now();
      lastFresh = lastGood - ageOf(page);
    }
  } catch { /* said by the banner */ }
  asking = false;
}

/**
 * Grafts what is new, and reports whether the page still has all that is shown.
 * @param {Document} page
 */
function renew(page) {
  const shown = [...document.querySelectorAll("[data-region]")];
  const fresh = shown.map((el) => page.querySelector(`[data-region="${el.getAttribute("data-region")}"]`));
  if (fresh.includes(null)) return false;
  shown.forEach((el, i) => graft(el, /** @type {Element} */ (fresh[i]).innerHTML));
  return true;
}

function tell() {
  const now = performance.now(), age = now - lastFresh;
  const isLost = age > LOST_AFTER && !document.hidden;
  document.documentElement.classList.toggle("is-lost", isLost);
  lost.hidden = !isLost;
  if (!isLost) return;
  const s = Math.floor(age / 1000);
  const what = now - lastGood > LOST_AFTER ? "Connection lost" : "No new readings";
  const text = `${what}: values are ${s < 120 ? s + " s" : Math.floor(s / 60) + " min"} old. Look at the machine.`;
  if (lost.textContent !== text) lost.textContent = text;
}

if (document.querySelector("[data-region]")) {
  document.addEventListener("submit", () => { answerUntil = performance.now() + ANSWER_WITHIN; });
  setInterval(look, EVERY);
  setInterval(tell, 250);
  // What was on the screen before it went dark is old until a look says more.
  document.addEventListener("visibilitychange", look);
}
