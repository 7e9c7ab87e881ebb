// Who has the tablet: the names, and a PIN where there is a signal. And the same PIN for a name given where none was.

import { button, h } from "../dom.js";
import { here } from "../principal.js";
import { failureSentence } from "../wire.js";
import { moment } from "../words.js";
import { bar, heading, notice } from "./bar.js";
import { pinPad } from "./pin.js";

// The yard was not there, as against: it was there and said no.
const isAway = (error) => ["no_network", "slow", "not_json"].includes(error.kind) || error.status >= 500;
const sentenceOf = (error) => (error.status === 429 && error.detail) || failureSentence(error);

const LATER = "when the signal is back.";
const byName = ({ name, pin }) =>
  pin
    ? `No signal: your name is noted now and confirmed with your PIN ${LATER}`
    : `No signal: your name is noted now. Say that it was you under your own sign-in ${LATER}`;

async function takeByName(app, person) {
  try {
    await app.who.takeByName(person);
  } catch {
    return "Not changed over: the tablet had no room to note it. Send what waits on it first.";
  }
  app.tell(`${person.name} has this tablet. ${byName(person)}`);
  app.go({}, { replace: true });
  return "";
}

async function takeByPin(app, person, pin) {
  try {
    await app.who.takeByPin(person.id, pin);
  } catch (error) {
    return isAway(error) ? takeByName(app, person) : sentenceOf(error);
  }
  app.tell(`${person.name} has this tablet.`);
  app.go({}, { replace: true });
  await app.fetchReference();
  app.outbox.poke();
  return "";
}

/** A screen with a PIN pad. Nothing half entered is drawn over. */
function padScreen(app, { title, back, words, pad }) {
  return {
    title,
    className: "screen-who",
    parts: [
      bar(app, { back, title, note: "" }),
      h("div.who-body", { keydown: pad.keyed }, h("div.who-words", heading(title), words), pad.entry),
      h("div.foot", pad.send),
    ],
  };
}

const toNames = { label: "Back", to: { page: "who" } };

function pinScreen(app, person) {
  const pad = pinPad({ name: person.name, label: "Take the tablet", send: (pin) => takeByPin(app, person, pin) });
  const words = h("p.large", "Enter your PIN. What is signed from now on is signed by you.");
  return padScreen(app, { title: person.name, back: toNames, words, pad });
}

function passwordScreen(app, person) {
  return {
    title: person.name,
    className: "screen-who",
    parts: [
      bar(app, { back: toNames, title: person.name, note: "" }),
      h("div.who-words",
        heading(person.name),
        h("p.large", `There is no PIN for ${person.name}. Sign in with name and password.`),
        h("p", "Yard hands and fitters set a PIN once signed in, under My PIN on Slake’s other pages."),
      ),
      h("div.foot", h("a.main-choice", { href: app.sign_in_url }, "Sign in")),
    ],
  };
}

function namesScreen(app) {
  const told = h("p.told", { role: "alert" });
  const holder = app.person();
  let busy = false;
  const choose = async (person) => {
    if (busy) return;
    busy = true;
    told.textContent = "Asking the yard.";
    try {
      await app.who.ask();
      app.go({ page: "who", person: person.id });
    } catch (error) {
      told.textContent = isAway(error) ? await takeByName(app, person) : sentenceOf(error);
    }
    busy = false;
  };
  const name = (person) =>
    h("li",
      button(person.name, {
        class: "answer",
        "aria-pressed": String(person.id === holder.id),
        click: () => choose(person),
      }),
    );
  return {
    title: "Change over",
    className: "screen-who",
    parts: [
      bar(app, { back: { label: here.home, to: {} }, title: "Change over", note: `${holder.name} has this tablet.` }),
      notice(app),
      h("div.who-words", heading("Who has this tablet now?"), told),
      h("ul.names", app.reference.people.map(name)),
    ],
  };
}

/** The names; or, for one of them, the PIN pad or the way to sign in. */
export function whoScreen(app, person) {
  if (!person) return namesScreen(app);
  return person.pin ? pinScreen(app, person) : passwordScreen(app, person);
}

/** The PIN of whoever signed a record that came to the yard under another's sign-in. */
export function confirmScreen(app, parcel) {
  const { author, fleet_number: cart } = parcel;
  const check = app.reference.purposes[parcel.purpose].label;
  const back = { label: "Back", to: { walk: parcel.id } };
  const when = moment(parcel.signed_at, app.now(), app.reference.time_zone);
  const send = async (pin) => {
    try {
      await app.confirmName(parcel, pin);
    } catch (error) {
      return sentenceOf(error);
    }
    app.tell(`${author.name}’s name under the ${check.toLowerCase()} of ${cart} is confirmed.`);
    app.go(back.to, { replace: true });
    app.fetchReference();
    return "";
  };
  const words = [
    h("p.large", `${cart}, ${check}, signed as ${author.name}, ${when}.`),
    h("p", `If that was you, ${author.name}, enter your PIN.`),
  ];
  const pad = pinPad({ name: author.name, label: "This was me", send });
  return padScreen(app, { title: "Confirm with PIN", back, words, pad });
}
