// Carts today, the ones that leave first at the top.

import { button, h, mark } from "../dom.js";
import { say } from "../say.js";
import { leavingFirst, progress } from "../walk.js";
import { here, hire } from "../principal.js";
import { count, isUnnamed, moment } from "../words.js";
import { heading, lookButtons, notice, tabletWords, whereItIs } from "./bar.js";

const AT_ONCE = 40;
const SECOND_LOOKS = 5;
const ARRIVED_SHOWN = 3;

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
  const more = button(say`Show more carts`, { class: "plain", click: () => fill((most += AT_ONCE)) });
  const input = h("input", { id: "find", type: "text", autocomplete: "off", enterkeyhint: "search", value: app.find });
  function fill() {
    const wanted = plainText(input.value);
    const found = carts.filter((cart) => plainText(`${cart.fleet_number} ${cart.plate}`).includes(wanted));
    list.replaceChildren(...found.slice(0, most).map((cart) => row(app, cart)));
    more.hidden = found.length <= most;
    const none = say`No cart has that number or plate.`;
    told.textContent = wanted ? (found.length ? count(found.length, say`cart`) : none) : "";
  }
  input.addEventListener("input", () => {
    app.find = input.value;
    fill();
  });
  fill();
  const label = h("label", { for: "find" }, "Find by fleet number or plate");
  return [h("div.find", label, input, told), list, more];
}

const nameOf = (app, { purpose }, { fleet_number }) => `${fleet_number}, ${labelOf(app, purpose)}`;

const stillAsked = ({ author }) =>
  hire ? "The yard has not accepted it yet." : `${author.name}: name not yet confirmed.`;

/** What was begun and what was signed here, with what has become of it. */
export function onThisTablet(app) {
  const begun = app.unfinished().filter((walk) => progress(walk).answered);
  // Newest first; of what the yard has, the last few are enough to find one again.
  const signed = [...app.parcels.values()].sort((a, b) => b.order - a.order);
  const arrived = signed.filter((one) => one.receipt).filter((one, n) => n < ARRIVED_SHOWN || isUnnamed(one));
  const unsent = signed.filter((one) => !one.receipt);
  if (![...begun, ...unsent, ...arrived].length) return null;
  const line = (one, name, label, click) =>
    h("li",
      h("p", h("strong", name), h("br"), whereItIs(app, one), isUnnamed(one) && ` ${stillAsked(one)}`),
      button(label, { class: "plain", "aria-label": `${label}: ${name}`, click }),
    );
  const waiting = unsent.some((one) => !one.parked);
  const send = { id: "send-now", class: "plain", click: app.outbox.poke };
  return h("section.on-tablet", { "aria-labelledby": "on-tablet" },
    h("h2", { id: "on-tablet" }, `On this ${here.thing}`),
    waiting && h("p", { role: "status" }, app.outbox.state.busy ? "Sending." : app.outbox.state.trouble?.sentence),
    h("ul",
      begun.map((walk) =>
        line(walk, nameOf(app, walk, walk.face), "Carry on", () => app.resume(walk, "Taken up again.")),
      ),
      [...unsent, ...arrived].map((one) =>
        isUnnamed(one) && app.colleague(one.author.id)?.pin
          ? line(one, nameOf(app, one, one), "Confirm with PIN", () => app.go({ walk: one.id, page: "name" }))
          : line(one, nameOf(app, one, one), "See", () => app.go({ walk: one.id })),
      ),
    ),
    waiting && !app.outbox.state.busy && button("Send now", send),
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
    waiting.length > SECOND_LOOKS && h("p", say`And ${waiting.length - SECOND_LOOKS} more, on their carts’ pages.`),
  );
}

const head = (app, from, fetch) =>
  h("header.list-head",
    h("div", heading(here.home), from),
    h("div.list-buttons", fetch, lookButtons(app)),
  );

/** Who has the tablet, where people change over on it. */
function holder(app) {
  if (!app.isShared()) return null;
  return h("section.holder", { "aria-label": "Who has this tablet" },
    h("div",
      h("p.large", h("strong", app.person().name), " has this tablet."),
      app.who.kept?.by_name && h("p", "Taken by name, with no signal: not yet confirmed."),
    ),
    button("Change over", { id: "change-over", click: () => app.go({ page: "who" }) }),
  );
}

/** The list. Rows are links, so a cart has an address of its own. */
export function cartsScreen(app) {
  const { reference } = app;
  const carts = leavingFirst(reference.carts);
  const fetched = moment(app.fetched_at, app.now(), reference.time_zone);
  const from = app.trouble
    ? `${app.trouble.sentence} This list is from ${fetched}.`
    : `${app.isShared() ? "" : `${app.person().name}. `}List from the yard, ${fetched}.`;
  const empty = h("p.empty", say`No carts here today. Ask the workshop manager which yard this tablet belongs to.`);
  return {
    title: say`Carts today`,
    className: "screen-list",
    live: true,
    parts: [
      head(app, h("p.from", from), button("Fetch again", { id: "fetch", class: "plain", click: app.fetchReference })),
      notice(app),
      holder(app),
      h("p.tablet-words", tabletWords(app)),
      app.trouble?.kind === "signed_out" && h("a.main-choice", { href: app.sign_in_url }, "Sign in"),
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
    title: here.home,
    className: "screen-list",
    live: true,
    parts: [
      head(app),
      h("div.waiting",
        h("p.large", { role: "status" }, signedOut ? (hire ? words : say`Sign in to see the yard’s carts.`) : words),
        signedOut && !hire && h("a.main-choice", { href: app.sign_in_url }, "Sign in"),
        app.trouble && button("Try again", { id: "fetch", class: "main-choice", click: app.fetchReference }),
      ),
    ],
  };
}
