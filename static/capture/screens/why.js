// Why a check could not be done. It is an answer of its own, and never counts as good.

import { button, h } from "../dom.js";
import { say } from "../say.js";
import { itemAt } from "../walk.js";
import { checkName } from "../words.js";
import { NO_ROOM, cameFrom, goOnward } from "./answering.js";
import { heading, walkBar } from "./bar.js";

/** The screen. "Other" asks for words, the rest are one press. */
export function whyScreen(app, walk, n) {
  const item = itemAt(walk, n);
  const check = walk.checks[item.check];
  const before = walk.answers[n];
  const told = h("p.told", { role: "alert" });
  const value = before?.why ? before.words : "";
  const box = h("input", { id: "why-words", type: "text", maxlength: "200", autocomplete: "off", value });

  const choose = (why) => async (event) => {
    const pressed = event.currentTarget;
    if (why === "other" && !box.value.trim()) {
      told.textContent = "Say in a few words what was in the way.";
      box.focus();
      return;
    }
    let next;
    try {
      next = await app.keep(walk, n, { answer: "could_not_check", why, words: box.value });
    } catch {
      told.textContent = NO_ROOM;
      return;
    }
    pressed.setAttribute("aria-pressed", "true");
    app.say("Kept: couldn’t check.");
    await goOnward(app, next, n, cameFrom());
  };
  const one = ({ key, label }) =>
    button(label, { class: "answer", "aria-pressed": String(before?.why === key), click: choose(key) });
  return {
    title: `Couldn’t check: ${check.title}`,
    className: "screen-why",
    parts: [
      walkBar(app, walk, { back: { label: "Back", to: { walk: walk.id, at: n, ...cameFrom() } } }),
      h("div.why-head",
        heading("Why couldn’t you check it?"),
        h("p.large", checkName(item, check)),
        h("p",
          check.required
            ? say`It stays not done, and the cart can’t go until it has been done.`
            : "It stays not done, and the record says so.",
        ),
        h("label", { for: "why-words" }, "A few words, where the reasons below don’t say it"),
        box,
        told,
      ),
      h("div", { class: "why-choices foot", role: "group", "aria-label": "Why" }, app.reference.why_not.map(one)),
    ],
  };
}
