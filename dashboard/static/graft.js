// @ts-check
// Graft changes a part of the page into what the server has written anew, and
// touches only what differs: a button stays the same element under the finger
// that is on it, an open fold stays open, and the focus stays where it is. It
// knows nothing of what the parts mean.

/**
 * @param {Element} into
 * @param {string} html
 * @returns {boolean} whether elements came or went
 */
export function graft(into, html) {
  const t = document.createElement("template");
  t.innerHTML = html;
  return patch(into, t.content);
}

/**
 * @param {Node} old
 * @param {Node} next
 * @returns {boolean}
 */
function patch(old, next) {
  let moved = false;
  let at = old.firstChild;
  for (let n = next.firstChild; n; ) {
    const after = n.nextSibling;
    const found = match(at, n);
    if (!found) {
      moved = moved || n.nodeType === Node.ELEMENT_NODE;
      old.insertBefore(n, at);
    } else {
      while (at !== found) {
        const gone = /** @type {ChildNode} */ (at);
        moved = moved || gone.nodeType === Node.ELEMENT_NODE;
        at = gone.nextSibling;
        gone.remove();
      }
      at = found.nextSibling;
      moved = renew(found, n) || moved;
    }
    n = after;
  }
  while (at) {
    const gone = at;
    moved = moved || gone.nodeType === Node.ELEMENT_NODE;
    at = gone.nextSibling;
    gone.remove();
  }
  return moved;
}

/**
 * Finds the node that is the same as n, from at on. Text is the same only in
 * its place: a search for it would throw away what lies between.
 * @param {ChildNode | null} at
 * @param {Node} n
 * @returns {ChildNode | null}
 */
function match(at, n) {
  if (n.nodeType !== Node.ELEMENT_NODE) return at && at.nodeType === n.nodeType ? at : null;
  for (let o = at; o; o = o.nextSibling) {
    if (o.nodeName === n.nodeName && key(o) === key(n)) return o;
  }
  return null;
}

/** @param {Node} n */
function key(n) {
  return /** @type {Element} */ (n).getAttribute?.("data-key") ?? "";
}

/**
 * @param {Node} old
 * @param {Node} next
 * @returns {boolean}
 */
function renew(old, next) {
  if (old.nodeType !== Node.ELEMENT_NODE) {
    if (old.nodeValue !== next.nodeValue) old.nodeValue = next.nodeValue;
    return false;
  }
  const o = /** @type {Element} */ (old), n = /** @type {Element} */ (next);
  for (const a of [...o.attributes]) {
    // A person opens and closes folds, not the server.
    if (!n.hasAttribute(a.name) && a.name !== "open") o.removeAttribute(a.name);
  }
  for (const a of n.attributes) {
    if (o.getAttribute(a.name) !== a.value) o.setAttribute(a.name, a.value);
  }
  return patch(o, n);
}
