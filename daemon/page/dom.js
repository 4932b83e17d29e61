/* SPDX-License-Identifier: Apache-2.0 */
/* Elements of HTML and SVG, and changes that touch only what is different. */

const SVG = "http://www.w3.org/2000/svg";

function fill(element, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (value === true) element.setAttribute(key, "");
    else if (value !== false && value != null) element.setAttribute(key, value);
  }
  element.append(...children.flat().filter((child) => child != null));
  return element;
}

export function h(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

export function s(tag, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

/* A share of a picture that is as wide as its place. */
export function pct(part) {
  return `${(Math.min(1, Math.max(0, part)) * 100).toFixed(2)}%`;
}

/* Screen readers and selections are left alone where nothing is new. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function show(element, isShown) {
  element.hidden = !isShown;
}

/* A table with a caption; cells that are arrays or nodes go in as they are. The first cell of a row names it. */
export function table(caption, heads, rows, kinds = []) {
  const cell = (content, i) =>
    h(i === 0 ? "th" : "td", {scope: i === 0 ? "row" : null, class: kinds[i]}, content);
  return h(
    "div",
    {class: "sheet", tabindex: "0", role: "region", "aria-label": caption},
    h(
      "table",
      {},
      h("caption", {}, caption),
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          heads.map((head, i) => h("th", {scope: "col", class: kinds[i]}, head)),
        ),
      ),
      h(
        "tbody",
        {},
        rows.map((row) => h("tr", {}, row.map(cell))),
      ),
    ),
  );
}
