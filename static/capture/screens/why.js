// Why a check could not be done. It is an answer of its own, and never counts as good.

import { button, h } from "../dom.js";
import { itemAt } from "../walk.js";
import { checkName } from "../words.js";
import { cameFrom, goOnward } from "./answering.js";
import { walkBar } from "./bar.js";

/** The screen. "Other" asks for words, the rest are one press. */
export function whyScreen(app, walk, n) {
  const item = itemAt(walk, n);
  const check = walk.checks[item.check];
  const before = walk.answers[n];
  const told = h("p", { class: "told", role: "alert" });
  const box = h("input", { id: "why-words", type: "text", maxlength: "200", autocomplete: "off", value: (before?.why && before.words) || "" });

  const choose = (why) => async (event) => {
    const pressed = event.currentTarget;
    if (why === "other" && !box.value.trim()) {
      told.textContent = "Say in a few words what was in the way.";
      box.focus();
      return;
    }
    try {
      const next = await app.keep(walk, n, { answer: "could_not_check", why, words: box.value });
      pressed.setAttribute("aria-pressed", "true");
      app.say("Kept: couldn’t check.");
      await goOnward(app, next, n, cameFrom());
    } catch {
      told.textContent = "Not kept: the tablet had no room for it. Try again.";
    }
  };
  const one = (reason) =>
    button(reason.label, { class: "answer", "aria-pressed": String(before?.why === reason.key), click: choose(reason.key) });
  return {
    title: `Couldn’t check: ${check.title}`,
    className: "screen-why",
    parts: [
      walkBar(app, walk, { back: { label: "Back", to: { walk: walk.id, at: n, ...cameFrom() } } }),
      h(
        "div",
        { class: "why-head" },
        h("h1", { tabindex: "-1", "data-focus": true }, "Why couldn’t you check it?"),
        h("p", { class: "large" }, checkName(item, check)),
        h(
          "p",
          {},
          check.required
            ? "It stays not done, and the cart can’t go until it has been done."
            : "It stays not done, and the record says so.",
        ),
        h("label", { for: "why-words" }, "A few words, needed only for “Other”"),
        box,
        told,
      ),
      h("div", { class: "why-choices foot", role: "group", "aria-label": "Why" }, app.reference.why_not.map(one)),
    ],
  };
}
