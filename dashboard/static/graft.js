// @ts-check
// Graft changes a part of the page into what the server has written anew, and
// touches only what differs: a button stays the same element under the finger
// that is on it, an open fold stays open, and the focus stays where it is. It
// knows nothing of what the parts mean. Where the server names the single nodes
// that differ, it reads no part and compares none: that is what keeps an old
// phone cool.

/** One node that differs: its text, its attributes, or its whole inside.
 * @typedef {{n: number, t?: string, a?: Record<string, string | null>, h?: string}} Change */

/**
 * @param {Element} into
 * @param {string} html
 * @returns {boolean} whether elements came or went
 */
export function graft(into, html) {
  const t = document.createElement("template");
  // The inside of a drawing is read as one, or each shape would lie in the last.
  const drawn = into instanceof SVGElement;
  t.innerHTML = drawn ? `<svg>${html}</svg>` : html;
  return patch(into, drawn ? /** @type {Element} */ (t.content.firstElementChild) : t.content);
}

/** The nodes of each part as the server counts them. @type {WeakMap<Element, Node[]>} */
const counted = new WeakMap();

/**
 * Counts the nodes of a part anew, after it was written whole.
 * @param {Element} part
 * @param {number} nodes how many the server has counted
 * @returns {boolean} whether it is as many
 */
export function count(part, nodes) {
  const list = [];
  const walker = document.createTreeWalker(part, NodeFilter.SHOW_ELEMENT | NodeFilter.SHOW_TEXT);
  for (let n = walker.nextNode(); n; n = walker.nextNode()) list.push(n);
  counted.set(part, list);
  return list.length === nodes;
}

/**
 * Changes single nodes of a part, by their numbers before.
 * @param {Element} part
 * @param {Change[]} changes
 * @returns {{moved: boolean, again: boolean}} whether elements came or went, and
 * whether the nodes must be counted again
 */
export function change(part, changes) {
  const list = counted.get(part) ?? [];
  let moved = false, again = false;
  for (const c of changes) {
    const node = list[c.n];
    if (!node) return { moved, again: true };
    if (c.t !== undefined) node.nodeValue = c.t;
    const el = /** @type {Element} */ (node);
    for (const [name, value] of Object.entries(c.a ?? {})) {
      if (value === null) el.removeAttribute(name); else el.setAttribute(name, value);
    }
    if (c.h !== undefined) {
      moved = graft(el, c.h) || moved;
      again = true;
    }
  }
  return { moved, again };
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
  // The browser compares far quicker than a script does.
  if (old.isEqualNode(next)) return false;
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
