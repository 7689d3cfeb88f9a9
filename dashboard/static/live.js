// @ts-check
// Live keeps the page that the server has written up to date. It owns one
// stream, the renewal of the named regions, and the banner that tells when
// nothing fresh has come: that is decided here by this browser's own clock,
// since a server that is gone can't say so. It computes no reading and no
// verdict. Without it the page is complete and reloads by itself.

import { moved, tell } from "./acts.js";
import { change, count, graft } from "./graft.js";
import { sound, sounding } from "./sound.js";
import { renewTrends, takeTrend, trendsOld } from "./trends.js";

/** @typedef {{seq: number, build: string, old: boolean, regions: Record<string, string>, changes: Record<string, import("./graft.js").Change[]>, nodes: Record<string, number>, call_level: string, trend?: import("./trends.js").TrendTick}} Tick */
/** @typedef {{level: string, raised: boolean, under: string | null, title: string, action: string}} Alarm */

/** Nothing fresh for this long counts as lost, in ms. */
const LOST_AFTER = 1400;
/** The pause before a lost stream is opened anew, in ms. */
const RETRY = 1000;
/** A stream that says nothing for this long is given up, in ms. */
const SILENT_AFTER = 5000;

const root = document.documentElement;
const lost = /** @type {HTMLElement} */ (document.getElementById("lost"));
const link = /** @type {HTMLElement} */ (document.getElementById("link"));

/** @type {EventSource | null} */
let source = null;
/** Id of the last message, so that a new stream fills the gap. */
let lastId = "";
/** When the last reading came, and when the last sign of life. */
let lastTick = performance.now();
let lastSign = lastTick;
/** True once a full state has come over the stream that is open. */
let live = false;
let openedAt = 0;
let retryAt = 0;
/** What the page says of its connection. */
let shown = "";
/** The level of the loudest alarm that asks for a person. */
let calling = "";
/** Set when the server's count of a part's nodes is not this browser's. */
let wholeParts = false;
/** The program that wrote this page, as its first tick names it. */
let build = "";
let renewing = false;

function open() {
  close();
  openedAt = performance.now();
  const url = document.body.dataset.stream + (lastId ? "&after=" + encodeURIComponent(lastId) : "") + (wholeParts ? "&whole=1" : "");
  source = new EventSource(url);
  source.addEventListener("tick", (e) => onTick(/** @type {MessageEvent<string>} */ (e)));
  source.addEventListener("beat", () => { lastSign = performance.now(); });
  source.addEventListener("alarm", (e) => onAlarm(/** @type {MessageEvent<string>} */ (e)));
  source.onerror = () => { close(); retryAt = performance.now() + RETRY; };
}

function close() {
  if (source) source.close();
  source = null;
  live = false;
}

/** @param {MessageEvent<string>} e */
function onTick(e) {
  /** @type {Tick} */
  const tick = JSON.parse(e.data);
  build ||= tick.build;
  if (tick.build !== build) void renewPage();
  for (const [name, nodes] of Object.entries(tick.nodes)) {
    const el = document.querySelector(`[data-region="${name}"]`);
    if (!el) continue;
    const whole = tick.regions[name];
    const did = whole === undefined ? change(el, tick.changes[name]) : { moved: graft(el, whole), again: true };
    if (did.moved && el.querySelector("form")) moved();
    // What doesn't add up is sent whole from then on.
    if (did.again && !count(el, nodes) && name !== "charts" && !wholeParts) { wholeParts = true; retryAt = 0; close(); return; }
  }
  // The charts come whole with the first tick of a stream, and when there is
  // another one.
  if ("charts" in tick.regions) renewTrends();
  takeTrend(tick.trend);
  lastId = e.lastEventId;
  lastSign = performance.now();
  if (!tick.old) lastTick = lastSign;
  document.body.dataset.seq = String(tick.seq);
  calling = tick.call_level;
  live = true;
  show();
}

/**
 * Loads the page anew, since another program may send parts that this one has no
 * place for. It asks first, so that a link that breaks leaves what is there. Sound
 * needs a tap after that, so a page that sounds goes on and says what to do.
 */
async function renewPage() {
  if (renewing) return;
  renewing = true;
  if (sounding()) {
    tell("The program on the machine was renewed and this page is of the old one. Load it anew, then turn the sound on again.", true);
    return;
  }
  try {
    const resp = await fetch(location.href, { signal: AbortSignal.timeout(SILENT_AFTER) });
    if (resp.ok) return location.reload();
  } catch { /* the next tick tries again */ }
  renewing = false;
}

/**
 * Says an alarm aloud to those who can't see it. Only what asks for action now
 * interrupts.
 * @param {MessageEvent<string>} e
 */
function onAlarm(e) {
  /** @type {Alarm} */
  const a = JSON.parse(e.data);
  lastId = e.lastEventId;
  if (!a.raised || a.under) return;
  const el = document.getElementById(a.level === "act" ? "say-act" : "say");
  if (el) el.textContent = a.title + ". " + a.action;
}

/** Shows how fresh the page is. */
function show() {
  const now = performance.now();
  const age = now - lastTick;
  const isLost = age > LOST_AFTER;
  sound(isLost ? "lost" : calling);
  const state = live && !isLost ? "Live" : isLost ? "Not live" : "Connecting…";
  if (state !== shown) {
    // Writing what is there already would have the page laid out again.
    shown = state;
    root.classList.toggle("is-lost", isLost);
    lost.hidden = !isLost;
    link.textContent = state;
    trendsOld(isLost);
    // Nothing takes an act that can't arrive.
    for (const b of document.querySelectorAll("form[data-act] button")) /** @type {HTMLButtonElement} */ (b).disabled = isLost;
  }
  if (!isLost) return;
  const s = Math.floor(age / 1000);
  const what = now - lastSign > LOST_AFTER ? "Connection lost" : "No new readings";
  const text = `${what}: values are ${s < 120 ? s + " s" : Math.floor(s / 60) + " min"} old. Look at the machine.`;
  if (lost.textContent !== text) lost.textContent = text;
}

function watch() {
  const now = performance.now();
  // A stream that is open but silent is as good as none.
  if (source && now - Math.max(lastSign, openedAt) > SILENT_AFTER) { close(); retryAt = now; }
  if (!source && (!document.hidden || sounding()) && now >= retryAt) open();
  show();
}

document.addEventListener("visibilitychange", () => {
  if (document.hidden && !sounding()) { close(); return; }
  retryAt = 0;
  watch();
});
window.addEventListener("pagehide", close);
window.addEventListener("pageshow", watch);
setInterval(watch, 200);
watch();
