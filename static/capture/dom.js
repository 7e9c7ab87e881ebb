// Builds elements without a framework: no markup is ever parsed, so no text from the yard can become code.

const SVG = "http://www.w3.org/2000/svg";

function fill(element, props, children) {
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") element.addEventListener(name, value);
    else if (name === "value") element.value = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  // append() turns strings into text nodes; gaps (null, false) are left out.
  element.append(...children.flat(2).filter((child) => child || child === 0));
  return element;
}

/** An HTML element. A function among `props` listens to the event of that name; false and null are left out. */
export const h = (tag, props, ...children) => fill(document.createElement(tag), props, children);

/** An SVG element, by the same rules. */
export const s = (tag, props, ...children) => fill(document.createElementNS(SVG, tag), props, children);

// Line drawings on a 32-unit square. Shape alone tells them apart: they are drawn in ink, never in a state colour.
const SHAPES = {
  good: ["M5 17l8 8L27 7"],
  wrong: ["M6 6l20 20M26 6L6 26"],
  not_on_cart: ["M5 5h5M14 5h4M22 5h5v5M27 14v4M27 22v5h-5M18 27h-4M10 27H5v-5M5 18v-4M5 10V5"],
  could_not_check: ["M10 11c0-8 13-8 13 0 0 6-7 5-7 10", "M16 26v2"],
  unanswered: ["M16 6a10 10 0 1 0 .01 0"],
  do_not_use: ["M11 3h10l8 8v10l-8 8H11l-8-8V11z", "M9 16h14"],
  by_date: ["M16 4l13 24H3z", "M16 13v7", "M16 23.5v1"],
  watch: ["M2 16c7-12 21-12 28 0-7 12-21 12-28 0z", "M16 12a4 4 0 1 0 .01 0"],
  ready: ["M5 17l8 8L27 7"],
  conditions: ["M16 4l13 24H3z", "M16 13v7", "M16 23.5v1"],
  held: ["M11 3h10l8 8v10l-8 8H11l-8-8V11z", "M9 16h14"],
  camera: ["M3 10h6l2-4h10l2 4h6v17H3z", "M16 13a5 5 0 1 0 .01 0"],
  rub_out: ["M11 7h18v18H11L3 16z", "M16 12l8 8M24 12l-8 8"],
  back: ["M20 5L9 16l11 11"],
  on: ["M12 5l11 11-11 11"],
};

/** One of our marks as a picture with no name of its own: a word always stands beside it. */
export function mark(name, className = "") {
  return s(
    "svg",
    { viewBox: "0 0 32 32", class: `mark mark-${name} ${className}`, "aria-hidden": "true", focusable: "false" },
    (SHAPES[name] ?? []).map((d) => s("path", { d })),
  );
}

/** A real button. `props.click` is called on pointer-up, so a finger that slides off cancels. */
export const button = (label, props, ...before) =>
  h("button", { type: "button", ...props }, ...before, h("span", { class: "label" }, label));
