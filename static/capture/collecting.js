// A driver who collects the cart: where the gate tells whether it may leave, and what is said at once when a point is
// not right.

import { h } from "./dom.js";

/** The gate's page for this phone; "" where nobody collects. */
export const gatePage = (app) => app.reference.site?.gate_page ?? "";

const SOUND = ["good", "not_on_cart"];

const numberOf = (app) => app.reference.site?.on_call ?? "";
const called = (number) => `tel:${number.replace(/\s/g, "")}`;

/** The number to ring, as a link; "" where the yard has given none. */
export function ringLink(app, before) {
  const number = numberOf(app);
  const words = `${before} ${number.replace(/\s/g, "\u00a0")}`;
  return number && h("a", { class: "main-choice second", href: called(number) }, words);
}

/** What stands above everything once a point is not right: the cart stays, and the number to ring. */
export function doNotLeave(app, walk, { always = false } = {}) {
  if (!gatePage(app)) return null;
  const wrong = Object.values(walk.answers).some((one) => !SOUND.includes(one.answer));
  if (!always && !wrong) return null;
  const number = numberOf(app);
  const ring = number && h("a", { href: called(number) }, `Ring ${number.replace(/\s/g, "\u00a0")}`);
  return h("div.do-not-leave", { role: "alert" }, h("strong", "Do not leave."), ring);
}
