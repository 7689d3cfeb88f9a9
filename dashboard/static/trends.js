// @ts-check
// Trends keeps the live page's strip charts up to date: it fetches what there
// was, adds what each tick brings, and has the charts drawn where they can be
// seen. It knows nothing of how a chart is drawn (strip.js), and judges nothing.
// Until it has what it needs, the server's own pictures stay; one that stays for
// long tells how old it is and not that it is of now.

import { Strip } from "./strip.js";

/** @typedef {{t_s: number, bands: Record<string, number[] | null>, marks?: Record<string, import("./strip.js").Mark[]>}} TrendTick */
/** @typedef {{now_s: number, window_s: number, charts: import("./strip.js").Chart[]}} Trend */

/** A chart moves on by less than a pixel in this time, in ms. */
const DRAW_EVERY = 1000;
/** The pause before a fetch that failed is tried again, in ms. */
const RETRY = 2000;
/** A fetch that takes longer is given up, in ms. */
const FETCH_WITHIN = 10000;
/** So long a server's picture may pass for now, in ms: it draws one as often. */
const PICTURE_FOR = 5000;
/** Pixels of a printed picture for one of the page. */
const PRINTED = 4;

/** @type {Map<string, Strip>} */
let strips = new Map();
/** @type {Set<Element>} */
const inView = new Set();
/** Ticks that came while the fetch was on its way. @type {TrendTick[]} */
let waiting = [];
let fetching = false;
let triedAt = -RETRY;
let wanted = true;
let now = 0;
let old = false;
let drawnAt = 0;
/** When the server's pictures came. */
let picturedAt = performance.now();

const seen = new IntersectionObserver((entries) => {
  for (const e of entries) {
    if (e.isIntersecting) inView.add(e.target); else inView.delete(e.target);
  }
  drawAll(true);
});
const sized = new ResizeObserver(() => drawAll(true));
window.addEventListener("beforeprint", () => { for (const s of strips.values()) s.draw(now, old, PRINTED); });
window.addEventListener("afterprint", () => drawAll(true));

/** Has the charts fetched anew: there is a gap, or other charts. */
export function renewTrends() {
  wanted = true;
  picturedAt = performance.now();
}

/**
 * Takes what a tick brought.
 * @param {TrendTick | undefined} tick
 */
export function takeTrend(tick) {
  if (wanted) void fill();
  datePictures();
  if (!tick) return;
  // What is drawn goes on until what is fetched takes its place.
  if (fetching) waiting.push(tick);
  const raised = add(tick);
  drawAll(raised);
}

/** Says how old the server's pictures are that are still on the page. */
function datePictures() {
  const age = performance.now() - picturedAt;
  if (age < PICTURE_FOR) return;
  for (const picture of document.querySelectorAll("figure[data-key] svg")) {
    const edge = [...picture.querySelectorAll("text")].find((e) => e.textContent === "now" || e.classList.contains("dated"));
    if (!edge) continue;
    edge.classList.add("dated");
    edge.textContent = `${Math.floor(age / 1000)} s ago`;
  }
}

/**
 * Tells whether the readings are too old to be called now.
 * @param {boolean} is
 */
export function trendsOld(is) {
  if (is === old) return;
  old = is;
  drawAll(true);
}

/** @param {TrendTick} tick */
function add(tick) {
  if (tick.t_s <= now) return false;
  now = tick.t_s;
  for (const [channel, strip] of strips) {
    strip.add(tick.t_s, tick.bands[channel] ?? null);
    for (const m of tick.marks?.[channel] ?? []) strip.mark(m);
  }
  return Boolean(tick.marks);
}

async function fill() {
  const asked = performance.now();
  if (fetching || asked - triedAt < RETRY) return;
  triedAt = asked;
  fetching = true;
  wanted = false;
  waiting = [];
  try {
    const answer = await fetch(document.body.dataset.trend ?? "", { signal: AbortSignal.timeout(FETCH_WITHIN) });
    if (!answer.ok) throw new Error(answer.statusText);
    bind(await answer.json());
  } catch {
    wanted = true;
  }
  fetching = false;
  for (const tick of waiting) add(tick);
  waiting = [];
  drawAll(true);
}

/**
 * Puts a canvas in the place of each of the server's pictures.
 * @param {Trend} trend
 */
function bind(trend) {
  seen.disconnect();
  sized.disconnect();
  inView.clear();
  strips = new Map();
  now = trend.now_s;
  for (const chart of trend.charts) {
    const figure = document.querySelector(`figure[data-key="${chart.channel}"]`);
    const place = figure?.querySelector("svg, canvas");
    if (!place) continue;
    const canvas = document.createElement("canvas");
    place.replaceWith(canvas);
    strips.set(chart.channel, new Strip(canvas, chart, trend.window_s));
    seen.observe(canvas);
    sized.observe(canvas);
  }
}

/** @param {boolean} atOnce */
function drawAll(atOnce) {
  const at = performance.now();
  if (!atOnce && at - drawnAt < DRAW_EVERY) return;
  drawnAt = at;
  for (const s of strips.values()) {
    if (!inView.has(s.canvas)) continue;
    s.draw(now, old, window.devicePixelRatio || 1);
    const place = s.canvas.parentElement?.querySelector(".off"), off = s.off();
    if (place && place.textContent !== off) place.textContent = off;
  }
}
