// @ts-check
// Hold drives an output as long as a button is held: it says so again and again,
// and the machine lets go by itself when that ends, so that a phone that goes
// dark never leaves a horn on. Without it one press gives a moment.

import "./renew.js";

/** From one word to the next, in ms; the machine waits for more than two. */
const EVERY = 400;
/** How long a keyboard's press drives it, in ms. */
const MOMENT = 2000;
/** A press belongs to the hold that ended less than this ago, in ms. */
const PRESS = 500;

const told = /** @type {HTMLElement} */ (document.getElementById("told"));
/** @type {HTMLFormElement | null} */
let held = null;
/**
 * Names this time that the button is down: a word that overtakes another on a
 * slow link must not drive the output again after its release.
 */
let press = "";
let timer = 0;
let endedAt = -PRESS;

/** @returns {string} a name that no other page gives */
const newPress = () => Array.from(crypto.getRandomValues(new Uint32Array(3)), (n) => n.toString(36)).join("-");

/**
 * @param {string} url
 * @param {string} name of the press
 * @returns {Promise<void>}
 */
async function send(url, name) {
  // It is sent to its end although the page goes away: above all the release.
  const resp = await fetch(url, { method: "POST", keepalive: true, headers: { Accept: "application/json", "X-Held": name } });
  const got = await resp.json();
  if (resp.status === 401 && got.enter) {
    location.assign(`${got.enter}?again=1&next=${encodeURIComponent(location.pathname)}`);
  } else if (!resp.ok) {
    if (name === press) end();
    told.textContent = got.error;
    told.hidden = false;
  }
}

/** @param {HTMLFormElement} form */
function begin(form) {
  end();
  told.hidden = true;
  held = form;
  const name = press = newPress();
  const go = () => { if (held) send(held.action, name).catch(() => { if (name === press) end(); }); };
  go();
  timer = setInterval(go, EVERY);
}

function end() {
  clearInterval(timer);
  if (!held) return;
  const url = held.action.replace(/hold$/, "release");
  held = null;
  endedAt = performance.now();
  send(url, press).catch(() => {});
}

/** @param {EventTarget | null} t */
const formOf = (t) => t instanceof Element ? /** @type {HTMLFormElement | null} */ (t.closest("[data-hold]")) : null;

document.addEventListener("pointerdown", (e) => {
  const form = formOf(e.target);
  if (form && e.target instanceof Element && e.target.closest("button")) begin(form);
});
for (const name of ["pointerup", "pointercancel", "blur", "pagehide"]) window.addEventListener(name, end);
document.addEventListener("visibilitychange", () => { if (document.hidden) end(); });
document.addEventListener("contextmenu", (e) => { if (formOf(e.target)) e.preventDefault(); });
// The press that ends a hold is no second one; a keyboard's press has no hold
// and gives a moment.
document.addEventListener("submit", (e) => {
  const form = formOf(e.target);
  if (!form) return;
  e.preventDefault();
  if (held || performance.now() - endedAt < PRESS) return;
  begin(form);
  setTimeout(end, MOMENT);
});
