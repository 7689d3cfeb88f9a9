// @ts-check
// Review reads values off the sheet of a run under the pointer or the arrow
// keys, for all readings at once, and looks closer where somebody drags across
// it. Without it the page is complete: the links above the sheet do the same.

/** @typedef {{label: string, unit: string, decimals: number, switch: boolean, min: (number|null)[], max: (number|null)[]}} Channel */
/** @typedef {{from_s: number, to_s: number, buckets: number, channels: Channel[]}} Series */

/** A drag shorter than this is a tap, in px. */
const DRAG = 12;

const look = /** @type {HTMLElement | null} */ (document.querySelector("[data-look]"));

/**
 * @param {HTMLElement} box
 */
function start(box) {
  // One for each width of screen, of which the style sheet shows one.
  const sheets = /** @type {SVGSVGElement[]} */ ([...box.querySelectorAll("svg.sheet")]);
  const out = /** @type {HTMLElement} */ (box.querySelector("[data-readout]"));
  const pane = /** @type {HTMLElement} */ (box.querySelector(".sheetbox"));
  if (!sheets.length) return;
  const num = (/** @type {string} */ key) => Number(box.dataset[key]);
  const from = num("from"), to = num("to");
  const hint = /** @type {HTMLElement | null} */ (document.querySelector("[data-hint]"));
  if (hint) hint.hidden = false;

  /** @type {Series | null} */
  let series = null;
  let at = (from + to) / 2;
  // The name of the strip that is pointed at; its figure comes first, as a
  // phone has no room for all.
  let strip = "";
  /** @type {number | null} */
  let begun = null;
  let begunX = 0;

  const drawn = sheets.map((sheet) => ({ sheet, line: mark(sheet, "cursor"), drag: mark(sheet, "drag"), ...axis(sheet) }));

  /** @param {SVGSVGElement} sheet */
  function axis(sheet) {
    const plot = /** @type {SVGRectElement} */ (sheet.querySelector(".plot"));
    return { left: plot.x.baseVal.value, length: plot.width.baseVal.value };
  }

  /**
   * @param {SVGSVGElement} sheet
   * @param {string} name
   */
  function mark(sheet, name) {
    const r = document.createElementNS(sheet.namespaceURI, "rect");
    r.setAttribute("class", name);
    r.setAttribute("y", "0");
    r.setAttribute("height", String(sheet.viewBox.baseVal.height));
    r.setAttribute("width", "0");
    sheet.append(r);
    return r;
  }

  /** @typedef {typeof drawn[0]} Drawn */

  /**
   * @param {Drawn} d
   * @param {number} t
   */
  function place(d, t) {
    return String(d.left + d.length * (t - from) / (to - from));
  }

  /**
   * @param {Drawn} d
   * @param {PointerEvent} e
   */
  function timeAt(d, e) {
    const r = d.sheet.getBoundingClientRect();
    const x = (e.clientX - r.left) * d.sheet.viewBox.baseVal.width / r.width;
    const t = from + (to - from) * (x - d.left) / d.length;
    return Math.min(Math.max(t, from), to);
  }

  async function load() {
    try {
      const resp = await fetch(/** @type {string} */ (box.dataset.series), { headers: { Accept: "application/json" } });
      if (resp.ok) series = await resp.json();
    } catch {
      series = null; // the picture and the links still serve
    }
  }
  const loaded = load();

  /** @param {number} t */
  async function show(t) {
    at = t;
    for (const d of drawn) {
      d.line.setAttribute("x", place(d, t));
      d.line.setAttribute("width", "1");
    }
    await loaded;
    if (!series || at !== t) return;
    const k = Math.min(Math.floor((t - series.from_s) / (series.to_s - series.from_s) * series.buckets), series.buckets - 1);
    out.hidden = false;
    out.replaceChildren(row("At", since(t)), ...first(series.channels).map((c) => row(c.label, value(c, k))));
  }

  /** @param {Channel[]} all */
  function first(all) {
    return [...all.filter((c) => c.label === strip), ...all.filter((c) => c.label !== strip)];
  }

  /**
   * @param {Drawn} d
   * @param {PointerEvent} e
   */
  function stripAt(d, e) {
    const below = [...d.sheet.querySelectorAll(".plot")].find((r) => r.getBoundingClientRect().bottom >= e.clientY);
    return below?.getAttribute("data-name") ?? "";
  }

  /**
   * @param {string} name
   * @param {string} text
   */
  function row(name, text) {
    const span = document.createElement("span"), b = document.createElement("b");
    b.textContent = text;
    span.append(`${name} `, b);
    return span;
  }

  /**
   * @param {Channel} c
   * @param {number} k
   */
  function value(c, k) {
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

  /**
   * @param {number} a
   * @param {number} b
   */
  function go(a, b) {
    location.assign(`${box.dataset.base}?from=${a}&to=${b}#chart`);
  }

  for (const d of drawn) {
    d.sheet.addEventListener("pointermove", (e) => {
      const t = timeAt(d, e);
      strip = stripAt(d, e);
      if (begun !== null) {
        const a = place(d, Math.min(begun, t)), b = place(d, Math.max(begun, t));
        d.drag.setAttribute("x", a);
        d.drag.setAttribute("width", String(Number(b) - Number(a)));
      }
      void show(t);
    });
    d.sheet.addEventListener("pointerdown", (e) => {
      begun = timeAt(d, e);
      strip = stripAt(d, e);
      begunX = e.clientX;
      if (e.pointerType === "mouse") d.sheet.setPointerCapture(e.pointerId);
      void show(begun);
    });
    d.sheet.addEventListener("pointerup", (e) => {
      const a = begun;
      begun = null;
      d.drag.setAttribute("width", "0");
      if (a === null || Math.abs(e.clientX - begunX) < DRAG) return;
      const t = timeAt(d, e);
      go(Math.min(a, t), Math.max(a, t));
    });
    d.sheet.addEventListener("pointercancel", () => {
      begun = null;
      d.drag.setAttribute("width", "0");
    });
  }

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

if (look) start(look);
