// @ts-check
// Sound beeps while an alarm asks for a person. A browser makes no sound before
// a tap, so it is off until somebody switches it on, and the page always says
// which of the two it is. It is never the only sign: all it says is on the page.

/**
 * Pitch in Hz, beeps in a row, and s from row to row, by level. Common practice,
 * no source: the more urgent, the higher, the more and the quicker.
 * @type {Record<string, {hz: number, beeps: number, every: number}>}
 */
const patterns = {
  act: { hz: 988, beeps: 3, every: 2 },
  warning: { hz: 740, beeps: 2, every: 6 },
  advice: { hz: 587, beeps: 1, every: 30 },
  lost: { hz: 330, beeps: 1, every: 10 },
};
const BEEP = 0.16, PAUSE = 0.1;

const box = /** @type {HTMLElement} */ (document.getElementById("sound"));
const button = /** @type {HTMLButtonElement} */ (document.getElementById("sound-switch"));
const says = /** @type {HTMLElement} */ (document.getElementById("sound-says"));

/** @type {AudioContext | null} */
let audio = null;
/** Where this tab keeps that somebody wants sound, from page to page. */
const WISH = "sound";
let wanted = wished();
let screen = "";
/** What keeps the screen on, for as long as the browser grants it. @type {WakeLockSentinel | null} */
let lock = null;
let level = "";
let nextAt = 0;

function wished() {
  try { return sessionStorage.getItem(WISH) === "on"; } catch { return false; }
}

/** @param {boolean} on */
function wish(on) {
  wanted = on;
  try { sessionStorage.setItem(WISH, on ? "on" : "off"); } catch { /* then it ends with the page */ }
}

/** Whether this browser sounds now. */
export function sounding() {
  return wanted && audio !== null && audio.state === "running";
}

/**
 * Says what calls; to be asked again and again.
 * @param {string} now a level, "lost", or "" for nothing
 */
export function sound(now) {
  if (now !== level) { level = now; nextAt = 0; }
  const p = patterns[level];
  const t = performance.now();
  if (!p || t < nextAt || !audio || !sounding()) return;
  nextAt = t + p.every * 1000;
  for (let i = 0; i < p.beeps; i++) beep(audio, p.hz, i * (BEEP + PAUSE));
  if (navigator.vibrate && level !== "lost") navigator.vibrate(Array(p.beeps * 2 - 1).fill(0).map((_, i) => 1000 * (i % 2 ? PAUSE : BEEP)));
}

/**
 * @param {AudioContext} a
 * @param {number} hz
 * @param {number} after
 */
function beep(a, hz, after) {
  const o = a.createOscillator(), g = a.createGain(), t = a.currentTime + after;
  o.frequency.value = hz;
  o.type = "square"; // its overtones come through a pump's noise
  g.gain.setValueAtTime(0, t);
  g.gain.linearRampToValueAtTime(0.4, t + 0.01);
  g.gain.setValueAtTime(0.4, t + BEEP - 0.02);
  g.gain.linearRampToValueAtTime(0, t + BEEP);
  o.connect(g).connect(a.destination);
  o.start(t);
  o.stop(t + BEEP);
}

async function flip() {
  wish(!sounding());
  if (!wanted) {
    await audio?.suspend();
    await freeScreen();
    return tell();
  }
  audio ??= new AudioContext();
  audio.onstatechange = tell;
  await audio.resume();
  beep(audio, 587, 0); // so that the person hears that it works
  nextAt = 0;
  await keepScreen();
  tell();
}

/**
 * Asks the browser to keep the screen on, which few allow over plain http. What
 * it grants it may take back at any time, such as with a low battery.
 */
async function keepScreen() {
  if (lock && !lock.released) return;
  const no = " This browser can't keep the screen on" + (isSecureContext ? "" : " over plain http") + ": set the screen's time-out to its longest.";
  try {
    if (!navigator.wakeLock) { screen = no; return; }
    const got = await navigator.wakeLock.request("screen");
    // Switched off meanwhile, or asked for twice at once.
    if (!wanted || lock && !lock.released) { await got.release(); return; }
    lock = got;
    got.addEventListener("release", () => {
      if (lock !== got) return;
      lock = null;
      screen = " The screen may go dark: this browser has stopped keeping it on.";
      tell();
    });
    screen = " The screen stays on.";
  } catch { screen = no; }
}

/** Lets the screen go dark again. */
async function freeScreen() {
  const held = lock;
  lock = null;
  screen = "";
  await held?.release();
}

function tell() {
  const on = sounding();
  button.textContent = on ? "Turn sound off" : "Turn sound on";
  button.setAttribute("aria-pressed", String(on));
  says.textContent = on ? "Sound on in this browser: beeps until acknowledged." + screen : "Sound off in this browser.";
  box.classList.toggle("wish", wanted);
  if (!wanted || on) return;
  button.textContent = "Turn sound on again";
  says.textContent = "Sound went off with the change of page: tap to turn it on again.";
}

/** Goes on with the sound that was wanted on the page before, where this browser lets it. */
async function goOn() {
  if (!wanted || sounding()) return;
  audio ??= new AudioContext();
  audio.onstatechange = tell;
  await audio.resume(); // which waits for a tap where one is needed
  await keepScreen();
  tell();
}

if (window.AudioContext) {
  box.hidden = false;
  goOn().catch(tell);
  // Any tap will do for that; the switch has its own.
  document.addEventListener("click", (e) => { if (!button.contains(/** @type {Node} */ (e.target))) goOn().catch(tell); });
  button.addEventListener("click", () => { flip().catch(tell); });
  // A page that was hidden has lost it.
  document.addEventListener("visibilitychange", () => { if (!document.hidden && wanted) keepScreen().then(tell); });
  tell();
}
