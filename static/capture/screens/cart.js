// One cart: what is already known to be wrong with it, then what to do with it.

import { NoRoom } from "../app.js";
import { button, h, mark } from "../dom.js";
import { HEADS } from "../heads.js";
import { lapFigure } from "../lap.js";
import { here } from "../principal.js";
import { say } from "../say.js";
import { progress } from "../walk.js";
import { count } from "../words.js";
import { bar, heading, notice } from "./bar.js";
import { rightToGo } from "./carts.js";

const FULL =
  say`There is no room on this ${here.thing} for another walk-round. Send what waits, or clear other things off it. ` +
  "What is begun can be finished.";

/** A defect that is already told, by the number it is pinned with on the plan, with where it stands. */
export function knownDefect(app, cart, defect, { here = false } = {}) {
  const grade = app.reference.grades.find((one) => one.key === defect.grade);
  const station = app.reference.stations.find((one) => one.key === defect.station);
  return h("li.known",
    mark(defect.grade),
    h("span",
      h("strong", `${cart.defects.indexOf(defect) + 1}. ${defect.title}`),
      h("span.known-where", [grade?.label, !here && station?.label].filter(Boolean).join(" · ")),
      h("span", [defect.told_words, defect.state_words].filter(Boolean).join(", ")),
      !here && defect.second_look && h("a.plain-link", { href: defect.second_look }, "Give a second look"),
    ),
  );
}

/** What is open on this cart already. */
export function defects(app, cart) {
  const title = cart.defects.length ? `Already told: ${count(cart.defects.length, "defect")}` : "No open defects";
  return h("section.known-defects", { "aria-labelledby": "known" },
    h("h2", { id: "known", tabindex: "-1" }, title),
    cart.defects.length > 0 && h("ul", cart.defects.map((defect) => knownDefect(app, cart, defect))),
  );
}

// A cart of an older list says nothing of its heads.
const asksFor = (cart, purpose) => (purpose === HEADS ? cart.spray : cart.sheets[purpose]);

function sizeOf(cart, purpose) {
  if (purpose === HEADS) return `${count(cart.spray.heads.length, "head")}, with a bucket and a watch`;
  const { looks, minutes } = cart.sheets[purpose];
  return `${count(looks, "look")}, about ${count(minutes, "minute")}`;
}

function choice(app, cart, purpose) {
  const open = app.openWalkOf(cart.id, purpose);
  const due = cart.purposes_due.includes(purpose);
  const size = open
    ? `Carry on: ${progress(open).answered} of ${progress(open).total} answered`
    : sizeOf(cart, purpose);
  const begin = async () => {
    if (open) return app.resume(open, "Taken up again.");
    try {
      const walk = await app.start(cart.id, purpose);
      return app.go({ walk: walk.id, at: 1 });
    } catch (error) {
      app.tell(error instanceof NoRoom ? FULL : "Not begun: it could not be kept here. Try again.");
      return app.redraw("known");
    }
  };
  return h(
    "button",
    { type: "button", class: "purpose", click: begin },
    h("strong", app.reference.purposes[purpose].label),
    h("span", size),
    due && !open && h("span.due", "Due"),
  );
}

// Two presses, because answers go with it; the first only asks.
function dropper(app, cart) {
  const open = app.openWalkOf(cart.id);
  if (!open) return null;
  const name = app.reference.purposes[open.purpose].label;
  const drop = async () => {
    await app.dropWalk(open);
    app.tell(`${name} thrown away. Nothing of it was sent.`);
    app.redraw("known");
  };
  const ask = button(`Throw the begun ${name} away`, {
    id: "drop",
    class: "plain",
    click: () => {
      ask.replaceWith(
        h("div.ask", { role: "group", "aria-label": `Throw the begun ${name} away?` },
          h("p", `${count(progress(open).answered, "answer")} will be lost.`),
          button("Throw it away", { id: "drop-yes", class: "plain", click: drop }),
          button("Keep it", { class: "plain", click: () => app.redraw("drop") }),
        ),
      );
      document.getElementById("drop-yes").focus();
    },
  });
  return ask;
}

/** What can be walked, what is due first. */
export function toDo(app, cart) {
  const order = Object.keys(app.reference.purposes).filter((purpose) => asksFor(cart, purpose));
  const dueFirst = order.sort((a, b) => cart.purposes_due.includes(b) - cart.purposes_due.includes(a));
  return h("section.purposes", { "aria-labelledby": "to-do" },
    h("h2", { id: "to-do" }, "What are you doing?"),
    h("div.purpose-grid", dueFirst.map((purpose) => choice(app, cart, purpose))),
    dueFirst.length === 0 && h("p", say`There is no check for this cart. To have that set right, ${here.report}.`),
    dropper(app, cart),
  );
}

/** The cart's page; also where the QR plate on the cart leads. */
export function cartScreen(app, cart) {
  app.find = "";
  const hirer = cart.leaves_words.includes(cart.hire?.label) ? "" : cart.hire?.label;
  return {
    title: cart.fleet_number,
    className: "screen-cart",
    live: true,
    parts: [
      bar(app, { back: { label: here.home, to: {} }, title: cart.plate, note: cart.make_model }),
      notice(app),
      h("div.cart-head",
        heading(cart.fleet_number),
        h("p.large", cart.leaves_words),
        h("p", [hirer, cart.where].filter(Boolean).join(" · ")),
        rightToGo(cart),
      ),
      defects(app, cart),
      toDo(app, cart),
      lapFigure(cart.lap, { label: `Plan of ${cart.fleet_number} seen from above`, className: "lap-cart" }),
    ],
  };
}
