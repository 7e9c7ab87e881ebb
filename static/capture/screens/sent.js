// After signing: on its way, held up, refused, or with the yard and judged.

import { gatePage, ringLink } from "../collecting.js";
import { button, h, mark } from "../dom.js";
import { HEADS } from "../heads.js";
import { here, hire } from "../principal.js";
import { say } from "../say.js";
import { failureSentence } from "../wire.js";
import { count, isUnnamed, moment } from "../words.js";
import { bar, heading, notice } from "./bar.js";
import { headsJudged, headsOwn, headsTitle, takeUpAgain } from "./heads_sent.js";
import { ringYard, toTheGate } from "./site.js";

const OUTCOMES = { ready: "Right to go", conditions: "Goes with limits", held: "Held" };

// What follows for the person beside the cart. The yard's judgement rests on what was found, when it was found.
const NOW = {
  ready: "If anything changes on the way, stop and look again.",
  conditions: "Keep to the limits. If anything changes on the way, stop and look again.",
  held: say`Leave the cart where it stands, take the key out and ${here.report}.`,
};

function reasons(list) {
  if (!list.length) return null;
  return h("ul.reasons", list.map((one) => h("li", mark(one.grade), h("span", one.sentence))));
}

function whoConfirms(app, author) {
  if (hire) return say`A manager of the yard looks at this check and accepts it before the cart leaves on it.`;
  const how = app.colleague(author.id)?.pin ? "with the PIN below, or on" : "under their own sign-in, on";
  return `${author.name} confirms it ${how} the record’s page. Until then the gate asks for it.`;
}

function confirm(app, parcel) {
  if (!isUnnamed(parcel) || !app.colleague(parcel.author.id)?.pin) return null;
  const click = () => app.go({ walk: parcel.id, page: "name" });
  return button("Confirm with PIN", { id: "confirm-name", class: "main-choice second", click });
}

const judged = (receipt) => [
  h("div", { class: `outcome is-${receipt.outcome}` },
    mark(receipt.outcome),
    heading(OUTCOMES[receipt.outcome]),
    h("p.large", receipt.headline),
  ),
  reasons(receipt.reasons),
  h("p.large", NOW[receipt.outcome]),
];

// Of a driver who collects the cart: that every point is sound is not yet that it may leave, which the gate judges.
const collected = (app, receipt, stands) => [
  h("div", { class: `outcome is-${stands ? "ready" : "held"}` },
    mark(stands ? "ready" : "held"),
    heading(stands ? "Every point is sound" : "Do not leave"),
    h("p.large", receipt.headline),
  ),
  reasons(receipt.reasons),
  stands
    ? h("p.large", "Whether it may leave is judged at the gate. Ask it now.")
    : ringLink(app, "Ring the yard now:"),
];

const judgedFor = (app, parcel) => {
  if (parcel.purpose === HEADS) return headsJudged(parcel.receipt);
  return gatePage(app) ? collected(app, parcel.receipt, !isUnnamed(parcel)) : judged(parcel.receipt);
};

function received(app, parcel) {
  const { receipt } = parcel;
  const when = moment(receipt.received_at, app.now(), app.reference.time_zone);
  const same = receipt.sha256 === parcel.sha256;
  return [
    ...judgedFor(app, parcel),
    h("p.receipt",
      { role: "status" },
      `The yard received it ${when}. Nothing of it is left only on this ${here.thing}.`,
    ),
    isUnnamed(parcel) &&
      h("p.receipt",
        h("strong", hire ? "Not yet accepted. " : "Name not yet confirmed. "),
        whoConfirms(app, parcel.author),
      ),
    hire && !gatePage(app) && receipt.outcome === "held" && ringYard(app),
    receipt.clock_flag &&
      h("p.receipt", `This ${here.thing}’s clock is wrong. The yard put the times right by its own.`),
    h("p.receipt",
      same
        ? `Record ${parcel.sha256.slice(0, 12)}: the yard holds exactly what you signed.`
        : failureSentence({ kind: "differs" }),
    ),
  ];
}

const OWN = {
  held: say`By your answers alone the cart may not go. Leave it, and tell the yard.`,
  conditions: "By your answers alone something has to be repaired by a date.",
  ready: say`By your answers alone nothing stops the cart.`,
};

function underWay(app, parcel) {
  const { state } = app.outbox;
  const photos = parcel.photos.length;
  const done = parcel.photos_sent.length;
  const progress = photos ? `${done} of ${count(photos, "photo")} with the yard.` : "No photos to send.";
  const trouble = parcel.parked?.sentence ?? (state.busy ? "" : state.trouble?.sentence);
  const signed = moment(parcel.signed_at, app.now(), app.reference.time_zone);
  const elsewhere = { href: app.sign_in_url, target: "_blank", rel: "noopener" };
  const head = parcel.parked ? "The yard refused it" : state.busy ? "Sending" : "Not sent yet";
  const own = parcel.own_outcome;
  const isHeads = parcel.purpose === HEADS;
  const refused = isHeads
    ? "None of its figures is lost. Take it up again: put right what the yard says, and sign it afresh."
    : `It stays on this ${here.thing}, signed, as it is. To have it looked at, ${here.report}.`;
  return [
    heading(head),
    trouble && h("p", { class: "large trouble", role: "alert" }, trouble),
    !isHeads && h("p.large", { role: "status" }, progress),
    h("p",
      parcel.parked
        ? refused
        : `Signed ${signed}, and on this ${here.thing} until the yard has it. With a signal it goes by itself.`,
    ),
    ...(isHeads ? headsOwn(parcel) : []),
    trouble && !isHeads && h("p.own-outcome", mark(own), h("span", `${OWN[own]} The yard has the last word.`)),
    state.trouble?.kind === "signed_out" && !hire && h("a.main-choice", elsewhere, "Sign in on another page"),
  ];
}

/** The screen of a signed record, whatever has become of it. */
export function sentScreen(app, parcel) {
  const send = {
    id: "send",
    class: "main-choice",
    click: () => (parcel.parked ? app.outbox.retry(parcel.id) : app.outbox.poke()),
  };
  const label = app.reference.purposes[parcel.purpose].label;
  const isHeads = parcel.purpose === HEADS;
  const titled = (receipt) => (isHeads ? headsTitle(receipt) : OUTCOMES[receipt.outcome]);
  // Refused for a figure, it is mended here; a difference between the two ends is not.
  const mayMend = isHeads && parcel.parked?.kind === "refused" && !app.outbox.state.busy;
  if (mayMend) send.class += " second";
  return {
    title: parcel.receipt ? titled(parcel.receipt) : "Sending",
    className: "screen-sent",
    live: true,
    parts: [
      bar(app, { back: { label: here.home, to: {} }, title: `${parcel.fleet_number} · ${label}`, note: "" }),
      notice(app),
      h("div.sent-body", parcel.receipt ? received(app, parcel) : underWay(app, parcel)),
      h("div.foot",
        confirm(app, parcel),
        mayMend && takeUpAgain(app, parcel),
        parcel.receipt && toTheGate(app),
        parcel.receipt
          ? !hire && h("a", { class: "main-choice second", href: parcel.receipt.page }, "See the record")
          : !app.outbox.state.busy && button("Send now", send),
        button(hire ? say`Back to the cart` : say`Next cart`, {
          class: parcel.receipt && !gatePage(app) ? "main-choice" : "main-choice second",
          click: () => app.go({}),
        }),
      ),
    ],
  };
}
