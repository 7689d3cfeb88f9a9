// @ts-check
// Standing renews the line about alarms on the pages that have no stream, and
// has the sound go on there: who looks up a run still hears that the pump
// starves. It touches nothing else on the page, and says when it can't know.

import { graft } from "./graft.js";
import { sound, sounding } from "./sound.js";

/** From one look to the next, in ms. */
const EVERY = 1500;
/** No answer for this long counts as lost, in ms. */
const LOST_AFTER = 5000;

const line = /** @type {HTMLElement} */ (document.getElementById("standing"));
let lastGood = performance.now();
let asking = false;

async function look() {
  if (asking || document.hidden && !sounding()) return;
  asking = true;
  try {
    const resp = await fetch("/standing", { signal: AbortSignal.timeout(LOST_AFTER) });
    // Who may not read is told nothing, which is no lost connection.
    if (resp.ok) graft(line, await resp.text());
    if (resp.status < 500) lastGood = performance.now();
  } catch { /* said below */ }
  asking = false;
}

function tell() {
  const lost = performance.now() - lastGood > LOST_AFTER && !document.hidden;
  const text = "No connection: whether an alarm stands isn't known here.";
  if (lost && line.textContent !== text) line.textContent = text;
  sound(lost ? "lost" : line.querySelector("[data-call]")?.getAttribute("data-call") ?? "");
}

setInterval(look, EVERY);
setInterval(tell, 250);
document.addEventListener("visibilitychange", () => { lastGood = performance.now(); look(); });
