// @ts-check
// Acts sends what a person does to an alarm without leaving the page, to the
// same addresses as the forms do without a script. A tap that comes just after
// something moved, or while another is under way, does nothing, since it was
// meant for what lay there before; the page says so, or a person would take it
// for done.

/** No tap counts for this long after the page has moved, in ms. */
const STEADY = 400;
/** What was done is shown for this long, in ms. */
const SHOWN = 5000;
/**
 * An answer that takes longer is given up, in ms, and taps count again. The
 * machine itself answers within 4 s, however slow its disk is.
 */
const ANSWER_WITHIN = 8000;

const told = /** @type {HTMLElement} */ (document.getElementById("told"));
let busy = false;
let movedAt = -STEADY;
let toldAt = -STEADY;
let timer = 0;

/** Notes that buttons came or went. */
export function moved() {
  movedAt = performance.now();
}

/**
 * Shows a line over the page's foot; what is bad stays until it is tapped.
 * @param {string} text
 * @param {boolean} bad
 */
export function tell(text, bad) {
  clearTimeout(timer);
  toldAt = performance.now();
  told.setAttribute("role", bad ? "alert" : "status");
  told.classList.toggle("bad", bad);
  told.hidden = false;
  told.textContent = text;
  if (!bad) timer = setTimeout(() => { told.hidden = true; }, SHOWN);
}

/**
 * What the PIN's page is told: where to come back to, and which alarms wait to
 * be acknowledged; anything else is to be pressed again.
 * @param {HTMLFormElement} form
 * @param {URLSearchParams} body
 */
function waiting(form, body) {
  const to = new URLSearchParams({ next: location.pathname + location.search });
  const ack = /\/alarms\/([^/]+)\/acknowledge$/.exec(form.action);
  for (const name of ack ? ack[1] === "all" ? body.getAll("alarm") : [ack[1]] : []) to.append("ack", name);
  if (!ack) to.set("again", "1");
  return to;
}

/**
 * @param {HTMLFormElement} form
 * @param {HTMLElement | null} by
 */
async function send(form, by) {
  const body = new URLSearchParams();
  for (const [k, v] of new FormData(form, by)) body.append(k, String(v));
  try {
    const resp = await fetch(form.action, { method: "POST", headers: { Accept: "application/json" }, body, signal: AbortSignal.timeout(ANSWER_WITHIN) });
    const got = await resp.json();
    if (resp.status === 401 && got.enter) {
      location.assign(`${got.enter}?${waiting(form, body)}`);
      return;
    }
    tell(got.text ?? got.error, !resp.ok);
    if (resp.ok) form.closest("details")?.removeAttribute("open");
  } catch {
    // What was sent may have arrived all the same.
    tell("No answer came: the alarm itself shows whether it was done. If not, tap again.", true);
  }
}

document.addEventListener("submit", (e) => {
  const form = /** @type {HTMLFormElement} */ (e.target);
  if (!form.matches("[data-act]")) return;
  e.preventDefault();
  if (busy) return tell("Not taken: the tap before is still on its way.", true);
  const now = performance.now();
  if (now - movedAt < STEADY) {
    // The second of two quick taps must not hide what the first one did.
    if (now - toldAt >= STEADY) tell("Not taken: the page had just moved. Look, and tap again.", true);
    return;
  }
  busy = true;
  send(form, e.submitter).finally(() => { busy = false; moved(); });
});
told.addEventListener("click", () => { told.hidden = true; });
