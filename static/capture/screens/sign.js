// The statement, and a name under it: drawn or typed, either as good as the other.

import { button, h } from "../dom.js";
import { HEADS, countWords } from "../heads.js";
import { signaturePad } from "../signature.js";
import { tally } from "../walk.js";
import { count } from "../words.js";
import { bar, heading, whereItIs } from "./bar.js";

function ways(kind, choose) {
  const one = (key, label) => {
    const pressed = { "aria-pressed": String(kind === key), click: () => choose(key) };
    return button(label, { id: `way-${key}`, class: "answer", ...pressed });
  };
  const both = [one("drawn", "Draw my name"), one("typed", "Type my name")];
  return h("div.ways", { role: "group", "aria-label": "How to sign" }, both);
}

function drawnPart(state, person, cleared) {
  const pad = signaturePad({
    label: `Where ${person.name} draws a signature`,
    strokes: state.strokes,
    onChange: (strokes) => {
      state.strokes = strokes;
      cleared.hidden = !strokes.length;
    },
  });
  cleared.hidden = !state.strokes.length;
  cleared.addEventListener("click", pad.clear);
  return h("div.sign-part", h("div.pad-line", h("p", `Draw with a finger, ${person.name}.`), cleared), pad.element);
}

function typedPart(state, person) {
  const input = h("input", { id: "signed-name", type: "text", autocomplete: "off", value: state.name });
  input.addEventListener("input", () => {
    state.name = input.value;
  });
  return h("div.sign-part", h("label", { for: "signed-name" }, `Type your name, ${person.name}`), input);
}

/** The screen. A name half entered stays while the page lives, and is nobody's signature until it is sent off. */
export function signScreen(app, walk) {
  const person = app.person();
  const { purposes } = app.reference;
  const { label, statement } = purposes[walk.purpose];
  // What one person began to write is not the next one's signature.
  const key = `${walk.id} ${person.id}`;
  const begunByAnother = walk.begun_by && walk.begun_by.id !== person.id;
  const state = (app.signing ??= new Map()).get(key) ?? { kind: null, strokes: [], name: "" };
  app.signing.set(key, state);
  const name = `${walk.face.fleet_number} · ${label}`;
  const counts = tally(walk);
  const undone = counts.could_not_check;
  const checks = `${count(walk.items.length, "check")}, ${counts.wrong} wrong, ${undone} couldn’t check.`;
  const told = h("p.told", { role: "alert" });
  let busy = false;

  const sign = async () => {
    if (counts.unanswered) return app.go({ walk: walk.id, page: "review" });
    const missing = {
      null: "Choose how to sign: draw or type.",
      drawn: state.strokes.flat().length < 2 && "Draw your name in the box.",
      typed: !state.name.trim() && "Type your name.",
    }[state.kind];
    if (missing) {
      told.textContent = missing;
      return null;
    }
    if (busy) return null;
    busy = true;
    const drawn = state.kind === "drawn";
    const signed = drawn ? { name: person.name, strokes: state.strokes } : { name: state.name.trim(), strokes: [] };
    try {
      await app.sign(walk, { kind: state.kind, statement, ...signed });
    } catch {
      busy = false;
      told.textContent = "Not signed: there was no room to keep it. Your answers are safe. Try again.";
      return null;
    }
    app.go({ walk: walk.id }, { replace: true });
    return app.outbox.poke();
  };
  const choose = (kind) => {
    state.kind = kind;
    app.redraw(kind === "typed" ? "signed-name" : "way-drawn");
  };
  const clear = button("Rub it out", { class: "plain" });
  return {
    title: "Sign",
    className: "screen-sign",
    parts: [
      bar(app, {
        back: { label: "Back", to: { walk: walk.id, page: "review" } },
        title: name,
        note: whereItIs(app, walk),
      }),
      h("div.sign-head",
        heading("Sign"),
        h("p", `${name}: ${walk.purpose === HEADS ? countWords(walk) : checks}`),
        begunByAnother && h("p.begun-by", `Begun by ${walk.begun_by.name}. You sign for all of it.`),
        h("p.statement", statement),
      ),
      h("div.sign-body",
        ways(state.kind, choose),
        state.kind === "drawn" && drawnPart(state, person, clear),
        state.kind === "typed" && typedPart(state, person),
      ),
      h("div.foot", told, button("Sign and send", { class: "main-choice", click: sign })),
    ],
  };
}
