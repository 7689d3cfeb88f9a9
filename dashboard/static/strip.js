// @ts-check
// Strip draws one strip chart on a canvas: a band from the least to the most of
// each short time, limits, alarms that came up, and gaps. It owns the choice of
// scale and the drawing; it looks like the chart that the server draws (package
// chart), whose rules it follows, and a test holds one against the other. It
// fetches nothing and judges nothing. Whoever would put another library in its
// place needs these five: a canvas, what the chart is, add, mark and draw.

/** @typedef {{y: number, label: string, high_is_bad: boolean, outer: boolean}} Limit */
/** @typedef {{t_s: number, label: string}} Mark */
/** A time without a gap; a band is its middle, the least and the most. */
/** @typedef {{from_s: number, to_s: number, bands: number[][]}} Run */
/** @typedef {{channel: string, name: string, unit: string, decimals: number, least_span: number, longest_step_s: number, limits: Limit[], marks: Mark[], runs: Run[]}} Chart */
/** @typedef {{lo: number, hi: number, step: number}} Scale */

const INK = "#111", QUIET = "#595959", FAINT = "#d9d9d9", HATCH = "#8c8c8c";
/** Bands across the chart. */
const BUCKETS = 240;
/** Heights in px, and the share of the width that the numbers take. */
const TOP = 16, HEIGHT = 128, TOTAL = 168, GUTTER = 0.15;
/** Share of the width that a limit's name takes. */
const LABEL_STEP = 0.34;
/** So many alarms at most, or a bad day paints the chart black. */
const MOST_MARKS = 24;

export class Strip {
  /**
   * @param {HTMLCanvasElement} canvas
   * @param {Chart} chart is kept and added to
   * @param {number} windowS
   */
  constructor(canvas, chart, windowS) {
    this.canvas = canvas;
    this.chart = chart;
    this.windowS = windowS;
    this.open = chart.runs.length > 0;
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", chart.name);
    canvas.style.cssText = `display:block;width:100%;height:${TOTAL}px`;
  }

  /**
   * Adds what came since the last call; null where it was not good.
   * @param {number} t
   * @param {number[] | null} band
   */
  add(t, band) {
    const runs = this.chart.runs;
    // First of all: a sensor that is bad for hours leaves nothing behind either.
    this.forget(t - this.windowS);
    if (!band) { this.open = false; return; }
    let run = runs[runs.length - 1];
    if (!run || !this.open || t - run.to_s > this.chart.longest_step_s) {
      run = { from_s: t, to_s: t, bands: [] };
      runs.push(run);
    }
    this.open = true;
    run.to_s = t;
    const width = this.windowS / BUCKETS;
    const middle = (Math.floor(t / width) + 0.5) * width;
    const last = run.bands[run.bands.length - 1];
    if (last && Math.abs(last[0] - middle) < width / 2) {
      last[1] = Math.min(last[1], band[0]);
      last[2] = Math.max(last[2], band[1]);
    } else {
      run.bands.push([middle, band[0], band[1]]);
    }
  }

  /** @param {Mark} m */
  mark(m) { this.chart.marks.push(m); }

  /**
   * Drops what has left the chart, so that a long day takes no more room than a
   * short one.
   * @param {number} from
   */
  forget(from) {
    const c = this.chart;
    while (c.runs.length && c.runs[0].to_s < from) c.runs.shift();
    const first = c.runs[0];
    if (first && first.from_s < from) {
      first.from_s = from;
      while (first.bands.length > 1 && first.bands[1][0] < from) first.bands.shift();
    }
    while (c.marks.length && (c.marks[0].t_s < from || c.marks.length > MOST_MARKS)) c.marks.shift();
  }

  /**
   * Draws the chart up to a time. With old the time is no longer now.
   * @param {number} now
   * @param {boolean} old
   * @param {number} ratio pixels of the picture for one of the page
   */
  draw(now, old, ratio) {
    const wide = this.canvas.clientWidth, g = this.canvas.getContext("2d");
    if (!wide || !g) return;
    // To set the size clears the canvas, even to the same.
    this.canvas.width = Math.round(wide * ratio);
    this.canvas.height = Math.round(TOTAL * ratio);
    g.scale(ratio, ratio);
    new Drawing(g, this.chart, wide, now, this.windowS, getComputedStyle(this.canvas).fontFamily).all(old);
  }

  /** Limits that lie too far away to be drawn, in words; empty for none. */
  off() {
    const c = this.chart, scale = scaleOf(c);
    const far = c.limits.filter((l) => !holds(scale, l.y)).map((l) => `${l.label} ${l.y.toFixed(c.decimals)} ${c.unit}`);
    return far.length ? `Outside the picture: ${far.join(", ")}.` : "";
  }
}

class Drawing {
  /**
   * @param {CanvasRenderingContext2D} g
   * @param {Chart} chart
   * @param {number} wide
   * @param {number} now
   * @param {number} windowS
   * @param {string} font
   */
  constructor(g, chart, wide, now, windowS, font) {
    this.g = g;
    this.c = chart;
    this.from = now - windowS;
    this.to = now;
    this.left = GUTTER * wide;
    this.right = wide;
    this.scale = scaleOf(chart);
    g.font = `14px ${font}`;
    g.lineJoin = "round";
  }

  /** @param {boolean} old */
  all(old) {
    const marks = this.c.marks.filter((m) => m.t_s >= this.from && m.t_s <= this.to);
    this.inside(() => {
      this.gaps();
      this.zones();
      for (const v of ticksOf(this.scale)) this.line(this.left, this.y(v), this.right, this.y(v), FAINT, 1);
      this.limits();
    });
    // The names lie under the data: nothing may hide a reading.
    this.names();
    this.inside(() => {
      this.bands();
      for (const m of marks) this.line(this.x(m.t_s), TOP, this.x(m.t_s), TOP + HEIGHT, INK, 1, [2, 3]);
    });
    this.line(this.left, TOP + HEIGHT, this.right, TOP + HEIGHT, QUIET, 1);
    this.letters(old);
    for (const m of marks) this.head(this.x(m.t_s));
  }

  /** @param {() => void} paint what stays inside the plot */
  inside(paint) {
    this.g.save();
    this.g.beginPath();
    this.g.rect(this.left, TOP, this.right - this.left, HEIGHT);
    this.g.clip();
    paint();
    this.g.restore();
  }

  /** @param {number} t */
  x(t) { return this.left + (this.right - this.left) * (t - this.from) / (this.to - this.from); }
  /** @param {number} v */
  y(v) { return TOP + HEIGHT * (this.scale.hi - v) / (this.scale.hi - this.scale.lo); }

  /** Hatches the times without a good reading. */
  gaps() {
    let at = this.from;
    this.c.runs.forEach((run, i) => {
      // A break that is shorter than a pause is still a break.
      if (i > 0 || run.from_s - at > this.c.longest_step_s) this.hatch(at, run.from_s);
      at = Math.max(at, run.to_s);
    });
    if (this.to - at > this.c.longest_step_s) this.hatch(at, this.to);
  }

  /** @param {number} from @param {number} to */
  hatch(from, to) {
    const g = this.g, a = this.x(from), b = this.x(to);
    if (!(b > a)) return;
    g.save();
    g.beginPath();
    g.rect(a, TOP, b - a, HEIGHT);
    g.clip();
    g.beginPath();
    for (let x = Math.floor((a - HEIGHT) / 6) * 6; x < b; x += 6) {
      g.moveTo(x, TOP + HEIGHT);
      g.lineTo(x + HEIGHT, TOP);
    }
    this.stroke(HATCH, 1);
    g.restore();
  }

  /** Shades what lies beyond the outer limits. */
  zones() {
    this.g.fillStyle = "rgb(89 89 89 / .15)";
    for (const l of this.c.limits) {
      if (!l.outer || !holds(this.scale, l.y)) continue;
      const y = this.y(l.y), top = l.high_is_bad ? TOP : y;
      this.g.fillRect(this.left, top, this.right - this.left, l.high_is_bad ? y - TOP : TOP + HEIGHT - y);
    }
  }

  bands() {
    const g = this.g;
    g.fillStyle = INK;
    for (const run of this.c.runs) {
      const at = run.bands.map(([t]) => this.x(Math.min(Math.max(t, this.from), this.to)));
      g.beginPath();
      run.bands.forEach((b, i) => g.lineTo(at[i], this.y(b[2])));
      for (let i = run.bands.length - 1; i >= 0; i--) g.lineTo(at[i], this.y(run.bands[i][1]));
      g.closePath();
      g.fill();
      this.stroke(INK, 2);
    }
  }

  limits() {
    for (const l of this.c.limits) {
      if (!holds(this.scale, l.y)) continue;
      this.line(this.left, this.y(l.y), this.right, this.y(l.y), QUIET, l.outer ? 3 : 1.5, l.outer ? [] : [6, 4]);
    }
  }

  names() {
    /** @type {{column: number, y: number}[]} */
    const taken = [];
    for (const l of this.c.limits) {
      if (!holds(this.scale, l.y)) continue;
      const at = placeLabel(this.y(l.y), taken);
      taken.push(at);
      this.text(this.left + (0.01 + LABEL_STEP * at.column) * this.right, at.y, "left", INK, `${l.label} ${limitText(l.y, this.c.decimals)}`);
    }
  }

  /** @param {boolean} old */
  letters(old) {
    for (const v of ticksOf(this.scale)) this.text(this.left - 6, this.y(v) + 5, "right", QUIET, tickText(v, this.scale.step));
    const s = this.to - this.from, base = TOTAL - 6;
    this.text(this.left, base, "left", QUIET, ago(s));
    this.text((this.left + this.right) / 2, base, "center", QUIET, ago(s / 2));
    this.text(this.right, base, "right", QUIET, old ? "last reading" : "now");
  }

  /** @param {number} x */
  head(x) {
    const g = this.g;
    g.fillStyle = INK;
    g.beginPath();
    g.moveTo(x - 8, 2);
    g.lineTo(x + 8, 2);
    g.lineTo(x, 15);
    g.fill();
  }

  /**
   * @param {number} x1 @param {number} y1 @param {number} x2 @param {number} y2
   * @param {string} colour @param {number} width @param {number[]} dash
   */
  line(x1, y1, x2, y2, colour, width, dash = []) {
    this.g.beginPath();
    this.g.moveTo(x1, y1);
    this.g.lineTo(x2, y2);
    this.stroke(colour, width, dash);
  }

  /** @param {string} colour @param {number} width @param {number[]} dash */
  stroke(colour, width, dash = []) {
    this.g.strokeStyle = colour;
    this.g.lineWidth = width;
    this.g.setLineDash(dash);
    this.g.stroke();
  }

  /** @param {number} x @param {number} y @param {CanvasTextAlign} align @param {string} colour @param {string} s */
  text(x, y, align, colour, s) {
    this.g.textAlign = align;
    this.g.fillStyle = "#fff";
    this.g.strokeStyle = "#fff";
    this.g.lineWidth = 8;
    this.g.setLineDash([]);
    this.g.strokeText(s, x, y);
    this.g.fillStyle = colour;
    this.g.fillText(s, x, y);
  }
}

/** @param {Scale} s @param {number} y */
function holds(s, y) { return y >= s.lo && y <= s.hi; }

/**
 * The axis holds all data, the nearest limit always, since the distance to it
 * is the point of the chart, and every other limit as long as it doesn't
 * squeeze the data.
 * @param {Chart} c
 * @returns {Scale}
 */
export function scaleOf(c) {
  const limits = c.limits.map((l) => l.y);
  let lo = Infinity, hi = -Infinity;
  for (const run of c.runs) {
    for (const b of run.bands) { lo = Math.min(lo, b[1]); hi = Math.max(hi, b[2]); }
  }
  if (lo > hi) {
    if (!limits.length) return rounded(0, c.least_span);
    return rounded(...widen(Math.min(...limits), Math.max(...limits), c.least_span));
  }
  [lo, hi] = widen(lo, hi, c.least_span);
  for (let first = true; limits.length; first = false) {
    const away = limits.map((y) => Math.max(lo - y, y - hi, 0));
    const [y] = limits.splice(away.indexOf(Math.min(...away)), 1);
    const nlo = Math.min(lo, y), nhi = Math.max(hi, y);
    if (!first && nhi - nlo > 2.5 * (hi - lo)) break;
    lo = nlo;
    hi = nhi;
  }
  return rounded(lo, hi);
}

/**
 * @param {number} lo @param {number} hi @param {number} span
 * @returns {[number, number]}
 */
function widen(lo, hi, span) {
  const lack = Math.max(span - (hi - lo), 0);
  return [lo - lack / 2, hi + lack / 2];
}

/**
 * A little air, and a step of 1, 2 or 5 times a power of ten.
 * @param {number} lo @param {number} hi
 * @returns {Scale}
 */
function rounded(lo, hi) {
  const air = 0.08 * (hi - lo);
  lo -= air;
  hi += air;
  const raw = (hi - lo) / 3.2;
  const pow = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5].map((m) => m * pow).find((v) => v >= raw) ?? 10 * pow;
  return { lo, hi, step };
}

/** @param {Scale} s */
export function ticksOf(s) {
  const out = [];
  for (let k = Math.ceil(s.lo / s.step); k * s.step <= s.hi && out.length < 12; k++) out.push(k * s.step);
  return out;
}

/** @param {number} v @param {number} step */
function tickText(v, step) {
  let decimals = 0;
  while (decimals < 4 && step < 0.999 * 10 ** -decimals) decimals++;
  const s = v.toFixed(decimals);
  return Number(s) === 0 ? s.replace("-", "") : s;
}

/** @param {number} v @param {number} decimals */
function limitText(v, decimals) {
  const s = String(Number(v.toFixed(decimals)));
  return s === "-0" ? "0" : s;
}

/**
 * A limit's name stands on its own line, at the left where the data is oldest;
 * one that would lie on another moves to the right.
 * @param {number} lineY @param {{column: number, y: number}[]} taken
 */
function placeLabel(lineY, taken) {
  const y = Math.min(Math.max(lineY + 5, TOP + 6), TOP + HEIGHT - 2);
  let column = 0;
  for (const o of taken) if (o.column === column && Math.abs(o.y - y) < 15) column++;
  return { column, y };
}

/** @param {number} s */
function ago(s) {
  return s < 120 ? `−${Math.round(s)} s` : `−${Math.round(s / 6) / 10} min`;
}
