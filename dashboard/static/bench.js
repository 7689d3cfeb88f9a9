// @ts-check
// Bench keeps the page of a test alive: the parts of it are renewed as on other
// pages, a hand that holds a valve feels that a point was taken, and the
// results come by themselves once the test has ended.

import "./renew.js";

/** How a phone shakes for a new step, in ms. */
const SHAKE = [120, 80, 120];

const region = document.querySelector('[data-region="bench"]');
const spoken = /** @type {HTMLElement} */ (document.querySelector("[data-spoken]"));
let mark = markNow();

function markNow() {
  return region?.querySelector("[data-mark]")?.getAttribute("data-mark") ?? "";
}

function seen() {
  if (region?.querySelector("[data-ended]")) {
    location.replace(location.pathname); // without what was said long ago
    return;
  }
  const now = markNow();
  if (now === mark) return;
  mark = now;
  document.querySelector(".said")?.remove();
  navigator.vibrate?.(SHAKE);
  spoken.textContent = region?.querySelector("h2")?.textContent ?? "";
}

if (region) new MutationObserver(seen).observe(region, { subtree: true, childList: true, attributes: true, attributeFilter: ["data-mark"] });
