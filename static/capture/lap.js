// The plan of this cart, with the places to stop, drawn by the yard as SVG. It is taken in piece by piece from a list
// of harmless elements, so that a drawing can never bring along a script or a link.

import { h } from "./dom.js";
import { whoAsks } from "./principal.js";

const ELEMENTS = new Set(
  "svg g path rect circle ellipse line polyline polygon text tspan title desc defs clipPath use symbol".split(" "),
);
const drawings = new Map();

function harmless(node) {
  const copy = document.createElementNS(node.namespaceURI, node.localName);
  for (const { name, value } of node.attributes) {
    if (/^on|^style$|href$|^xmlns/i.test(name) && !(name === "href" && value.startsWith("#"))) continue;
    if (/url\(\s*['"]?[^#'"\s]/i.test(value)) continue;
    copy.setAttribute(name, value);
  }
  for (const child of node.childNodes) {
    if (child.nodeType === Node.TEXT_NODE) copy.append(child.data);
    else if (child.nodeType === Node.ELEMENT_NODE && ELEMENTS.has(child.localName)) copy.append(harmless(child));
  }
  return copy;
}

const PATIENCE_MS = 5_000;
let shelf = null;

async function textOf(url) {
  const fixed = { credentials: "same-origin", headers: whoAsks, redirect: "error" };
  try {
    const response = await fetch(url, { ...fixed, signal: AbortSignal.timeout(PATIENCE_MS) });
    const text = await response.text();
    if (!response.ok || !text.includes("<svg")) throw new Error("no drawing");
    shelf?.put(`lap:${url}`, text).catch(() => {});
    return text;
  } catch (error) {
    const kept = await shelf?.get(`lap:${url}`);
    if (!kept) throw error;
    return kept;
  }
}

async function fetchDrawing(url) {
  const parsed = new DOMParser().parseFromString(await textOf(url), "image/svg+xml");
  if (parsed.documentElement.localName !== "svg") throw new Error("no drawing");
  return harmless(parsed.documentElement);
}

function drawingOf(url) {
  if (!drawings.has(url)) drawings.set(url, fetchDrawing(url));
  return drawings.get(url);
}

/** Lets every plan be drawn afresh, since a defect may have been pinned or cleared meanwhile. */
export const dropDrawings = () => drawings.clear();

/** Fetches the plans of these carts one after the other and keeps them, for where there is no signal. */
export async function keepDrawings(carts) {
  for (const { lap } of carts) if (lap) await drawingOf(lap).catch(() => drawings.delete(lap));
}

/** Where plans are kept from now on. */
export const drawFrom = (store) => {
  shelf = store;
};

/**
 * A figure that shows the cart's plan with `station` marked and those in `done` ticked. It fills when the drawing
 * arrives and goes away quietly when there is none, because the words beside it always say the place too.
 */
export function lapFigure(url, { label, station = null, done = [], className = "" }) {
  const figure = h("figure", { class: `lap-plan ${className}`, role: "img", "aria-label": label });
  if (!url) return h("figure.lap-plan", { hidden: true });
  drawingOf(url).then(
    (drawing) => {
      const own = drawing.cloneNode(true);
      own.setAttribute("aria-hidden", "true");
      own.removeAttribute("role");
      for (const stop of own.querySelectorAll("[data-station]")) {
        stop.classList.toggle("is-here", stop.dataset.station === station);
        stop.classList.toggle("is-done", done.includes(stop.dataset.station));
      }
      figure.append(own);
    },
    () => {
      drawings.delete(url);
      figure.hidden = true;
    },
  );
  return figure;
}
