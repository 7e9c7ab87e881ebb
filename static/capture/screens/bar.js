// The strip at the top of every screen: the way back, which cart, and what is where.

import { button, h, mark } from "../dom.js";
import { chosen, turn } from "../look.js";
import { HEADS } from "../heads.js";
import { here } from "../principal.js";
import { say } from "../say.js";
import { progress } from "../walk.js";
import { count, moment } from "../words.js";

/** What the yard has and what only this tablet has of one walk, in words. */
export function whereItIs(app, walk) {
  const parcel = app.parcels.get(walk.id);
  const zone = app.reference.time_zone;
  if (parcel?.receipt) return `The yard received it ${moment(parcel.receipt.received_at, app.now(), zone)}.`;
  if (parcel) {
    const signed = `Signed ${moment(parcel.signed_at, app.now(), zone)}.`;
    return `${signed} ${parcel.parked ? "The yard refused it; it is on" : "On"} this ${here.thing} only.`;
  }
  const { answered } = progress(walk);
  return answered ? `${count(answered, "answer")} on this ${here.thing} only.` : "Nothing answered yet.";
}

const DISK_FULL =
  `This ${here.thing}’s disk is full, or failing. What was kept on it can’t be read now: clear other things off it, ` +
  "then load this page again. Until then nothing is kept; leave the page open until all is sent.";

const LOST =
  `What was kept on this ${here.thing} is gone: its disk failed, or was cleared. Walk again what the yard does not ` +
  `have, and ${here.report}.`;

// A browser's word for it, which need not be the disk's: a figure beyond what anybody walks would only look exact.
function roomWords(rounds) {
  if (rounds === null) return "";
  return rounds > 100 ? say`Room for over 100 more walk-rounds.` : `Room for ${count(rounds, say`more walk-round`)}.`;
}

function counted(records, before, after) {
  const tests = records.filter((one) => one.purpose === HEADS).length;
  const kinds = [[records.length - tests, say`walk-round`], [tests, "evenness test"]];
  return kinds.filter(([number]) => number).map(([number, kind]) => count(number, before + kind) + after);
}

/** What is on this tablet only, and whether the page would open without a signal, in words. */
export function tabletWords(app) {
  const begun = app.unfinished().filter((walk) => progress(walk).answered);
  const only = [...counted(app.unsent(), "signed ", ` on this ${here.thing} only`), ...counted(begun, "", " begun")];
  const words = only.length ? `${only.join(", ")}.` : `The yard has everything signed on this ${here.thing}.`;
  if (app.disk_is_full) return DISK_FULL;
  if (app.isLost()) return LOST;
  if (!app.is_kept) return `${words} This browser keeps nothing: leave the page open until all is sent.`;
  return [words, app.shell_is_kept && "This page opens without a signal.", roomWords(app.roomFor())]
    .filter(Boolean)
    .join(" ");
}

/** The bar. `back`, `forward` and `list` (the way to all checks of the walk) are {label, to} or {label, click}. */
export function bar(app, { back, title, note, forward, list }) {
  const step = (way, className, ...shape) =>
    way && button(way.label, { class: `step ${className}`, click: way.click ?? (() => app.go(way.to)) }, ...shape);
  return h("header.bar",
    step(back, "step-back", mark("back")),
    h("div.bar-words", h("p.bar-title", title), h("p.bar-note", note)),
    step(list, "step-list"),
    step(forward, "step-on", mark("on")),
  );
}

/** The bar of a walk: which cart, how far, and what only this tablet has. */
export function walkBar(app, walk, steps) {
  const { answered, total } = progress(walk);
  const purpose = app.reference.purposes[walk.purpose].label;
  return bar(app, {
    title: `${walk.face.fleet_number} · ${purpose} · ${answered} of ${total}`,
    note: [steps.forward && app.last_kept, whereItIs(app, walk)].filter(Boolean).join(" "),
    ...steps,
  });
}

/** The heading of a screen; the focus comes here when a person has moved to it. */
export const heading = (...words) => h("h1", { tabindex: "-1", "data-focus": true }, words);

/** A sentence the person must see before anything else on this screen, if there is one. */
export const notice = (app) => app.notice && h("p.notice", { role: "status" }, app.notice.sentence);

/** The two choices of the person holding the tablet. Each says what it does when pressed. */
export function lookButtons(app) {
  const labels = {
    look: chosen("look") === "sun" ? "Night look" : "Sun look",
    hand: chosen("hand") === "right" ? "Left hand" : "Right hand",
  };
  const one = (name) =>
    button(labels[name], {
      id: `turn-${name}`,
      class: "plain",
      click: () => {
        turn(name);
        app.redraw(`turn-${name}`);
      },
    });
  return [one("look"), one("hand")];
}
