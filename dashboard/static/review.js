// @ts-check
// Review reads values off the sheets of one or more runs under the pointer or
// the arrow keys, for all readings at once, and looks closer where somebody drags
// across one. Sheets that stand together share their time axis, cursor and
// read-out. Without it the page is complete: the links above the sheets do the
// same.

/** @typedef {{label: string, unit: string, decimals: number, switch: boolean, min: (number|null)[], max: (number|null)[]}} Channel */
/** @typedef {{from_s: number, to_s: number, buckets: number, channels: Channel[]}} Series */
/** @typedef {{sheet: SVGSVGElement, left: number, length: number, line: Element, drag: Element}} Drawn */

/** A drag shorter than this is a tap, in px. */
const DRAG = 12;

const looks = /** @type {HTMLElement | null} */ (document.querySelector("[data-looks]"));

/**
 * @param {HTMLElement} group
 */
function start(group) {
  const panes = /** @type {HTMLElement[]} */ ([...group.querySelectorAll("[data-look]")]);
  const out = /** @type {HTMLElement} */ (group.querySelector("[data-readout]"));
  // Each is drawn for several widths of screen, of which the style sheet shows one.
  const drawn = /** @type {SVGSVGElement[]} */ ([...group.querySelectorAll("svg.sheet")]).map(prepare);
  if (!drawn.length) return;
  const from = Number(group.dataset.from), to = Number(group.dataset.to);
  const hint = /** @type {HTMLElement | null} */ (document.querySelector("[data-hint]"));
  if (hint) hint.hidden = false;

  let at = (from + to) / 2;
  // The name of the strip that is pointed at; its figure comes first, as a
  // phone has no room for all.
  let strip = "";
  /** @type {number | null} */
  let begun = null;
  let begunX = 0;
  const loaded = Promise.all(panes.map((p) => load(p.dataset.series ?? "")));

  /** @param {Drawn} d @param {number} t */
  function place(d, t) {
    return d.left + d.length * (t - from) / (to - from);
  }

  /** @param {Drawn} d @param {PointerEvent} e */
  function timeAt(d, e) {
    const r = d.sheet.getBoundingClientRect();
    const x = (e.clientX - r.left) * d.sheet.viewBox.baseVal.width / r.width;
    const t = from + (to - from) * (x - d.left) / d.length;
    return Math.min(Math.max(t, from), to);
  }

  /** @param {number} t */
  async function show(t) {
    at = t;
    for (const d of drawn) span(d.line, place(d, t), 1);
    const all = await loaded;
    if (at !== t || !all.some((s) => s)) return;
    const names = [...new Set(all.flatMap((s) => s?.channels.map((c) => c.label) ?? []))];
    names.sort((a, b) => Number(b === strip) - Number(a === strip));
    const which = panes.length > 1 ? [row("", panes.map((p) => p.dataset.look).join(" · "))] : [];
    out.hidden = false;
    out.replaceChildren(row("At", since(t)), ...which, ...names.map((n) => row(n, all.map((s) => valueOf(s, n, t)).join(" · "))));
  }

  /** @param {number} a @param {number} b */
  function go(a, b) {
    const base = group.dataset.base ?? "";
    location.assign(`${base}${base.includes("?") ? "&" : "?"}from=${a}&to=${b}#chart`);
  }

  /** @param {Drawn} d @param {PointerEvent} e */
  function point(d, e) {
    const t = timeAt(d, e);
    strip = stripAt(d, e);
    void show(t);
    return t;
  }

  function drop() {
    begun = null;
    for (const d of drawn) span(d.drag, 0, 0);
  }

  for (const d of drawn) {
    d.sheet.addEventListener("pointermove", (e) => {
      const t = point(d, e), a = begun;
      if (a === null) return;
      for (const o of drawn) span(o.drag, place(o, Math.min(a, t)), place(o, Math.max(a, t)) - place(o, Math.min(a, t)));
    });
    d.sheet.addEventListener("pointerdown", (e) => {
      begun = point(d, e);
      begunX = e.clientX;
      if (e.pointerType === "mouse") d.sheet.setPointerCapture(e.pointerId);
    });
    d.sheet.addEventListener("pointerup", (e) => {
      const a = begun;
      drop();
      if (a === null || Math.abs(e.clientX - begunX) < DRAG) return;
      const t = timeAt(d, e);
      go(Math.min(a, t), Math.max(a, t));
    });
    d.sheet.addEventListener("pointercancel", drop);
  }
  for (const pane of panes) {
    pane.addEventListener("keydown", (e) => {
      const step = (to - from) / 100;
      if (e.key === "ArrowLeft" || e.key === "ArrowRight") {
        e.preventDefault();
        void show(Math.min(Math.max(at + (e.key === "ArrowLeft" ? -step : step), from), to));
      } else if (e.key === "+") {
        go(at - 20 * step, at + 20 * step);
      } else if (e.key === "-") {
        go(at - 125 * step, at + 125 * step);
      }
    });
  }
}

/**
 * Finds a sheet's time axis and puts the cursor and the drag on it.
 * @param {SVGSVGElement} sheet
 * @returns {Drawn}
 */
function prepare(sheet) {
  const plot = /** @type {SVGRectElement} */ (sheet.querySelector(".plot"));
  const mark = (/** @type {string} */ name) => {
    const r = document.createElementNS(sheet.namespaceURI, "rect");
    r.setAttribute("class", name);
    r.setAttribute("y", "0");
    r.setAttribute("height", String(sheet.viewBox.baseVal.height));
    r.setAttribute("width", "0");
    sheet.append(r);
    return r;
  };
  return { sheet, left: plot.x.baseVal.value, length: plot.width.baseVal.value, line: mark("cursor"), drag: mark("drag") };
}

/** @param {Element} rect @param {number} x @param {number} width */
function span(rect, x, width) {
  rect.setAttribute("x", String(x));
  rect.setAttribute("width", String(width));
}

/** @param {Drawn} d @param {PointerEvent} e */
function stripAt(d, e) {
  const below = [...d.sheet.querySelectorAll(".plot")].find((r) => r.getBoundingClientRect().bottom >= e.clientY);
  return below?.getAttribute("data-name") ?? "";
}

/**
 * @param {string} address
 * @returns {Promise<Series | null>}
 */
async function load(address) {
  try {
    const resp = await fetch(address, { headers: { Accept: "application/json" } });
    return resp.ok ? await resp.json() : null;
  } catch {
    return null; // the picture and the links still serve
  }
}

/**
 * @param {string} name
 * @param {string} text
 */
function row(name, text) {
  const line = document.createElement("span"), b = document.createElement("b");
  b.textContent = text;
  line.append(name ? `${name} ` : "", b);
  return line;
}

/**
 * What a channel of a run had at a time.
 * @param {Series | null} s
 * @param {string} name
 * @param {number} t
 */
function valueOf(s, name, t) {
  const c = s?.channels.find((o) => o.label === name);
  if (!s || !c) return "–";
  if (t < s.from_s || t > s.to_s) return "not recorded";
  const k = Math.min(Math.floor((t - s.from_s) / (s.to_s - s.from_s) * s.buckets), s.buckets - 1);
  const lo = c.min[k], hi = c.max[k];
  if (lo === null || hi === null || lo === undefined || hi === undefined) return "not known";
  if (c.switch) return lo !== hi ? "off and on" : hi > 0 ? "on" : "off";
  const low = lo.toFixed(c.decimals), high = hi.toFixed(c.decimals);
  return `${low === high ? low : `${low} to ${high}`} ${c.unit}`.trim();
}

/** @param {number} t */
function since(t) {
  const s = Math.abs(t);
  const m = Math.floor(s / 60), rest = (s - 60 * m).toFixed(1).padStart(4, "0");
  return `${t < 0 ? "−" : "+"}${m}:${rest}`;
}

if (looks) start(looks);
