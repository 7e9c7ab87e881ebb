// A customer's person with one cart on hire: what is wrong with it, its pre-start, and whom to ring.

import { button, h } from "../dom.js";
import { say } from "../say.js";
import { moment } from "../words.js";
import { heading, lookButtons, notice, tabletWords } from "./bar.js";
import { defects, toDo } from "./cart.js";
import { onThisTablet, rightToGo } from "./carts.js";

/** Rings the yard's person on call; "" where the yard has given no number. */
export function ringYard(app) {
  const number = app.reference.site?.on_call ?? "";
  const link = { class: "main-choice second", href: `tel:${number.replace(/\s/g, "")}` };
  return number && h("a", link, `Ring the yard: ${number.replace(/\s/g, "\u00a0")}`);
}

const onHire = (app, cart) => [
  h("div.cart-head", h("p", [cart.plate, cart.make_model].filter(Boolean).join(" · ")), rightToGo(cart)),
  defects(app, cart),
  toDo(app, cart),
  h("p",
    "Walk round it before each shift’s first use. The maker’s manual, your site’s rules and the law come first.",
  ),
];

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
  return {
    title: cart?.fleet_number ?? "Hire over",
    className: "screen-list",
    live: true,
    parts: [
      h("header.list-head", h("div", heading(cart?.fleet_number ?? "This hire is over"), h("p.from", from))),
      notice(app),
      h("p.tablet-words", tabletWords(app)),
      onThisTablet(app),
      ...(cart ? onHire(app, cart) : [h("p.large", say`The cart is back with ${site.yard}. ${STILL_GOES}`)]),
      ringYard(app),
      h("div.list-buttons", fetchAgain, lookButtons(app)),
    ],
  };
}
