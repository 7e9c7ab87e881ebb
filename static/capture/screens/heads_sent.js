// A signed flow and evenness test: on its way, refused and to be mended, or with the yard and judged.

import { button, h, mark } from "../dom.js";
import { say } from "../say.js";
import { heading } from "./bar.js";

const OUTCOMES = { good: "Every head good", out: "Heads to see to" };
const LOOKS = { good: "ready", out: "conditions" };

/** The heading of a test the yard has judged. */
export const headsTitle = ({ outcome }) => OUTCOMES[outcome];

/** What the yard made of it. */
export const headsJudged = (receipt) => [
  h("div", { class: `outcome is-${LOOKS[receipt.outcome]}` },
    mark(LOOKS[receipt.outcome]),
    heading(headsTitle(receipt)),
    h("p.large", receipt.headline),
  ),
  receipt.sentences.map((one) => h("p.large", one)),
];

/** What it comes to by the tablet's own figures, before the yard has judged it. */
export const headsOwn = ({ own_words: words }) => [
  ...words.map((one) => h("p", h("strong", one))),
  h("p", "By the figures on this tablet. The yard has the last word."),
];

/** Brings the figures of a refused test back, to be put right and signed afresh. */
export function takeUpAgain(app, parcel) {
  const click = async (event) => {
    // The yard is asked for the heads it has by now.
    event.currentTarget.querySelector(".label").textContent = "Asking the yard";
    const { sentence } = parcel.parked;
    try {
      const walk = await app.takeUpHeads(parcel);
      if (!walk) {
        app.tell(say`That cart’s heads are not on this tablet’s list. With a signal, take it up again.`);
        return app.redraw("take-up");
      }
      app.tell(`Taken up again. ${sentence}`);
      return app.go({ walk: walk.id, page: "review" }, { replace: true });
    } catch {
      app.tell("Not taken up: there was no room to keep it. It is here as it was. Try again.");
      return app.redraw("take-up");
    }
  };
  return button("Take it up again", { id: "take-up", class: "main-choice", click });
}
