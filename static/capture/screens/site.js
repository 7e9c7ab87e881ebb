// A customer's person with one cart on hire: what is wrong with it, its pre-start, and whom to ring.

import { gatePage, ringLink } from "../collecting.js";
import { button, h } from "../dom.js";
import { say } from "../say.js";
import { moment } from "../words.js";
import { heading, lookButtons, notice, tabletWords } from "./bar.js";
import { defects, toDo } from "./cart.js";
import { onThisTablet, rightToGo } from "./carts.js";

/** Rings the yard's person on call; "" where the yard has given no number. */
export const ringYard = (app) => ringLink(app, "Ring the yard:");

const BEFORE_EACH_SHIFT =
  "Walk round it before each shift’s first use. The maker’s manual, your site’s rules and the law come first.";
const COLLECT =
  "Walk all of it before you leave. If a point is not right, do not leave: ring. " +
  "The maker’s manual and the law come first.";

/** The way from the check to the gate: whether the cart may leave. */
export const toTheGate = (app, shape = "main-choice") =>
  gatePage(app) && h("a", { class: shape, href: gatePage(app) }, "May it leave?");

const onHire = (app, cart) => [
  h("div.cart-head",
    h("p", [cart.plate, cart.make_model].filter(Boolean).join(" · ")),
    gatePage(app) && h("p.large", cart.where),
    rightToGo(cart),
  ),
  defects(app, cart),
  toDo(app, cart),
  h("p", gatePage(app) ? COLLECT : BEFORE_EACH_SHIFT),
];

const overWords = (app, { yard }) =>
  gatePage(app) ? say`The cart has left, or the yard ended this link.` : say`The cart is back with ${yard}.`;
const STILL_GOES = "What was signed here still goes to the yard.";

/** The first screen of a hire. */
export function siteScreen(app) {
  const { site, person, time_zone: zone, carts } = app.reference;
  const fetchAgain = button("Fetch again", { id: "fetch", class: "plain", click: app.fetchReference });
  const [cart] = site.is_over ? [] : carts;
  const fetched = moment(app.fetched_at, app.now(), zone);
  const from = app.trouble
    ? `${app.trouble.sentence} This page is as of ${fetched}.`
    : `${person.name}, ${site.customer}. From ${site.yard}, ${fetched}.`;
  const over = gatePage(app) ? "This link is over" : "This hire is over";
  return {
    title: cart?.fleet_number ?? over,
    className: "screen-list",
    live: true,
    parts: [
      h("header.list-head", h("div", heading(cart?.fleet_number ?? over), h("p.from", from))),
      // A driver nobody stands beside has the number before anything else.
      gatePage(app) && ringYard(app),
      notice(app),
      h("p.tablet-words", tabletWords(app)),
      onThisTablet(app),
      ...(cart ? onHire(app, cart) : [h("p.large", `${overWords(app, site)} ${STILL_GOES}`)]),
      !site.is_over && toTheGate(app, "main-choice second"),
      !gatePage(app) && ringYard(app),
      h("div.list-buttons", fetchAgain, lookButtons(app)),
    ],
  };
}
