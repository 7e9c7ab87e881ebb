// Builds elements without a framework: no markup is ever parsed, so no text from the yard can become code.

const SVG = "http://www.w3.org/2000/svg";

function fill(element, props, children) {
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") element.addEventListener(name, value);
    else if (name === "value") element.value = value;
    else if (name === "class") element.setAttribute(name, `${element.getAttribute(name) ?? ""} ${value}`.trim());
    else element.setAttribute(name, value === true ? "" : value);
  }
  // append() turns strings into text nodes; gaps (null, false) are left out.
  element.append(...children.flat(2).filter((child) => child || child === 0));
  return element;
}

const isProps = (one) => one && Object.getPrototypeOf(one) === Object.prototype;

/**
 * An HTML element: h("p.large", { id: "x" }, ...children); the properties may be left out. A function among them
 * listens to the event of that name; what is false or null is left out.
 */
export function h(tag, ...rest) {
  const [name, ...classes] = tag.split(".");
  const element = document.createElement(name);
  if (classes.length) element.className = classes.join(" ");
  return isProps(rest[0]) ? fill(element, rest[0], rest.slice(1)) : fill(element, {}, rest);
}

/** An SVG element, by the same rules. */
export const s = (tag, props, ...children) => fill(document.createElementNS(SVG, tag), props, children);

// Answers and tools, in ink on a 32-unit square: told apart by shape alone.
const DRAWN = {
  good: "M5 17l8 8L27 7",
  wrong: "M6 6l20 20M26 6L6 26",
  not_on_cart: "M5 10V5h5M14 5h4M22 5h5v5M27 14v4M27 22v5h-5M18 27h-4M10 27H5v-5M5 18v-4",
  could_not_check: "M10 11c0-8 13-8 13 0 0 6-7 5-7 10M16 26v2",
  unanswered: "M16 6a10 10 0 1 0 .01 0",
  camera: "M3 10h6l2-4h10l2 4h6v17H3zM16 13a5 5 0 1 0 .01 0",
  rub_out: "M11 7h18v18H11L3 16zM16 12l8 8M24 12l-8 8",
  back: "M20 5L9 16l11 11",
  on: "M12 5l11 11-11 11",
};

// The safety shapes of the yard's other pages (components/mark.html), each a ground and a sign on 24 units.
const SAFETY = {
  stop: ["M7.4 1h9.2L23 7.4v9.2L16.6 23H7.4L1 16.6V7.4z", "M6 12h12"],
  caution: ["M12 2L23 22H1z", "M12 8.5v7M12 17.2v2.6"],
  safe: ["M1 1h22v22H1z", "M5 12.5l5 5.5L19 6"],
  watch: ["M12 2a10 10 0 1 0 .01 0", "M12 6.5V12l4 2.8"],
};
const MEANING = {
  do_not_use: "stop",
  held: "stop",
  by_date: "caution",
  conditions: "caution",
  limits: "caution",
  ready: "safe",
};

/** One of our marks as a picture with no name of its own: a word always stands beside it. */
export function mark(name) {
  const drawn = DRAWN[name];
  const shape = MEANING[name] ?? name;
  const box = drawn ? "0 0 32 32" : "0 0 24 24";
  const className = drawn ? `mark drawn drawn-${name}` : `mark mark-${shape}`;
  const [ground, sign] = SAFETY[shape] ?? [];
  return s(
    "svg",
    { viewBox: box, class: className, "aria-hidden": "true", focusable: "false" },
    drawn && s("path", { d: drawn }),
    ground && [s("path", { class: "mark-ground", d: ground }), s("path", { class: "mark-sign", d: sign })],
  );
}

/** A real button. `props.click` is called on pointer-up, so a finger that slides off cancels. */
export const button = (label, props, ...before) =>
  h("button", { type: "button", ...props }, ...before, h("span.label", label));
