// Carts today, the ones that leave first at the top.

import { button, h, mark } from "../dom.js";
import { leavingFirst, progress } from "../walk.js";
import { count, moment } from "../words.js";
import { heading, lookButtons, notice, whereItIs } from "./bar.js";

const AT_ONCE = 40;
const SECOND_LOOKS = 5;

/** A cart's right to go: a shape for the eye, the yard's sentence for the rest. */
export const rightToGo = (cart) =>
  h(
    "p",
    { class: `right-to-go is-${cart.right_to_go.state}` },
    mark(cart.right_to_go.state),
    h("span", cart.right_to_go.sentence),
  );

const labelOf = (app, purpose) => app.reference.purposes[purpose].label;

function dueWords(app, cart) {
  const open = app.openWalkOf(cart.id);
  if (open) {
    const { answered, total } = progress(open);
    return `${labelOf(app, open.purpose)} begun: ${answered} of ${total}`;
  }
  return cart.purposes_due.length ? `Due: ${cart.purposes_due.map((one) => labelOf(app, one)).join(", ")}` : "";
}

function row(app, cart) {
  const due = dueWords(app, cart);
  return h("li",
    h("a.cart-row", { href: `#cart=${cart.id}` },
      h("span.fleet-number", cart.fleet_number),
      h("span.cart-facts",
        h("span", h("strong", cart.leaves_words), cart.where && ` · ${cart.where}`),
        h("span", [cart.plate, cart.make_model].filter(Boolean).join(" · ")),
        due && h("span.due", due),
      ),
      rightToGo(cart),
    ),
  );
}

const plainText = (text) => text.toLowerCase().replace(/[^a-z0-9]/g, "");

function finder(carts, app) {
  let most = AT_ONCE;
  const list = h("ul.cart-list");
  const told = h("p.find-told", { role: "status" });
  const more = button("Show more carts", { class: "plain", click: () => fill((most += AT_ONCE)) });
  const input = h("input", { id: "find", type: "text", autocomplete: "off", enterkeyhint: "search", value: app.find });
  function fill() {
    const wanted = plainText(input.value);
    const found = carts.filter((cart) => plainText(`${cart.fleet_number} ${cart.plate}`).includes(wanted));
    list.replaceChildren(...found.slice(0, most).map((cart) => row(app, cart)));
    more.hidden = found.length <= most;
    told.textContent = wanted ? (found.length ? count(found.length, "cart") : "No cart has that number or plate.") : "";
  }
  input.addEventListener("input", () => {
    app.find = input.value;
    fill();
  });
  fill();
  const label = h("label", { for: "find" }, "Find by fleet number or plate");
  return [h("div.find", label, input, told), list, more];
}

function onThisTablet(app) {
  const walks = [...app.walks.values()].filter((walk) => app.parcels.has(walk.id) || progress(walk).answered);
  if (!walks.length) return null;
  const line = (walk) => {
    const name = `${walk.face.fleet_number}, ${labelOf(app, walk.purpose)}`;
    const parcel = app.parcels.get(walk.id);
    const label = parcel ? (parcel.receipt ? "See" : "Send now") : "Carry on";
    const click = () => (parcel ? app.go({ walk: walk.id }) : app.resume(walk, "Taken up again."));
    return h("li",
      h("p", h("strong", name), h("br"), whereItIs(app, walk)),
      button(label, { class: "plain", "aria-label": `${label}: ${name}`, click }),
    );
  };
  return h("section.on-tablet", { "aria-labelledby": "on-tablet" },
    h("h2", { id: "on-tablet" }, "On this tablet"),
    h("ul", walks.map(line)),
  );
}

// A repair somebody else made frees its cart once this person has looked at it: a page of its own, with a signal.
function secondLooks(carts) {
  const waiting = carts.flatMap((cart) => cart.defects.filter((one) => one.second_look).map((one) => [cart, one]));
  if (!waiting.length) return null;
  const line = ([cart, defect]) => {
    const what = `${cart.fleet_number}, ${defect.title}`;
    const link = { href: defect.second_look, "aria-label": `Give a second look: ${what}` };
    return h("li", h("p", h("strong", what)), h("a.plain-link", link, "Give a second look"));
  };
  return h("section.second-looks", { "aria-labelledby": "second-looks" },
    h("h2", { id: "second-looks" }, "Waiting for a second look you may give"),
    h("ul", waiting.slice(0, SECOND_LOOKS).map(line)),
    waiting.length > SECOND_LOOKS && h("p", `And ${waiting.length - SECOND_LOOKS} more, on their carts’ pages.`),
  );
}

const head = (app, from, fetch) =>
  h("header.list-head",
    h("div", heading("Carts today"), from),
    h("div.list-buttons", fetch, lookButtons(app)),
  );

/** The list. Rows are links, so a cart has an address of its own. */
export function cartsScreen(app) {
  const { reference } = app;
  const carts = leavingFirst(reference.carts);
  const fetched = moment(app.fetched_at, app.now(), reference.time_zone);
  const from = app.trouble
    ? `${app.trouble.sentence} This list is from ${fetched}.`
    : `${reference.person.name}. List from the yard, ${fetched}.`;
  const empty = h("p.empty", "No carts here today. Ask the workshop manager which yard this tablet belongs to.");
  return {
    title: "Carts today",
    className: "screen-list",
    live: true,
    parts: [
      head(app, h("p.from", from), button("Fetch again", { id: "fetch", class: "plain", click: app.fetchReference })),
      notice(app),
      onThisTablet(app),
      secondLooks(carts),
      ...(carts.length ? finder(carts, app) : [empty]),
      h("p.elsewhere", h("a", { href: app.home_url }, "Slake’s other pages")),
    ],
  };
}

/** Before the yard has said which carts there are, or when it can't be reached at all. */
export function waitingScreen(app) {
  const signedOut = app.trouble?.kind === "signed_out";
  const words = app.trouble ? app.trouble.sentence : "Fetching the yard’s list.";
  return {
    title: "Carts today",
    className: "screen-list",
    live: true,
    parts: [
      head(app),
      h("div.waiting",
        h("p.large", { role: "status" }, signedOut ? "Sign in to see the yard’s carts." : words),
        signedOut && h("a.main-choice", { href: app.sign_in_url }, "Sign in"),
        app.trouble && button("Try again", { id: "fetch", class: "main-choice", click: app.fetchReference }),
      ),
    ],
  };
}
