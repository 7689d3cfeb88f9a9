// @ts-check
// Renew keeps the marked parts of a page that has no stream up to date: it
// fetches the page itself now and then and grafts what differs. What a person
// is writing stays. It stops while the page is hidden, and says when the
// machine can't be reached.

import { graft } from "./graft.js";

/** From one look to the next, in ms. */
const EVERY = 700;
/** No answer for this long counts as lost, in ms. */
const LOST_AFTER = 2000;

const lost = /** @type {HTMLElement} */ (document.getElementById("lost"));
let lastGood = performance.now();
let asking = false;

async function look() {
  if (asking || document.hidden) return;
  asking = true;
  try {
    const resp = await fetch(location.pathname + location.search, { signal: AbortSignal.timeout(LOST_AFTER) });
    if (resp.ok) {
      const page = new DOMParser().parseFromString(await resp.text(), "text/html");
      for (const el of document.querySelectorAll("[data-region]")) {
        const fresh = page.querySelector(`[data-region="${el.getAttribute("data-region")}"]`);
        if (fresh) graft(el, fresh.innerHTML);
      }
      lastGood = performance.now();
    }
  } catch { /* said by the banner */ }
  asking = false;
}

function tell() {
  const age = performance.now() - lastGood;
  const isLost = age > LOST_AFTER && !document.hidden;
  document.documentElement.classList.toggle("is-lost", isLost);
  lost.hidden = !isLost;
  if (isLost) lost.textContent = `Connection lost: values are ${Math.floor(age / 1000)} s old.`;
}

if (document.querySelector("[data-region]")) {
  setInterval(look, EVERY);
  setInterval(tell, 250);
  document.addEventListener("visibilitychange", () => { lastGood = performance.now(); });
}
