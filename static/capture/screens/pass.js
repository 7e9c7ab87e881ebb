// The first page of a pass: what changes now, and what to mind, before anybody goes near the cart again.

import { button, h } from "../dom.js";
import { lapFigure } from "../lap.js";
import { say } from "../say.js";
import { itemAt, stops } from "../walk.js";
import { count } from "../words.js";
import { heading, notice, walkBar } from "./bar.js";

/** Shown once for each pass, before its first check n. */
export function passScreen(app, walk, n) {
  const number = itemAt(walk, n).pass;
  const pass = app.reference.passes.find((one) => one.number === number);
  const passes = [...new Set(walk.items.map((item) => item.pass))];
  const here = stops(walk).filter((stop) => stop.pass === number);
  const checks = here.reduce((sum, stop) => sum + stop.items.length, 0);
  const cart = walk.face;
  const before = { label: "Back", to: { walk: walk.id, at: n - 1 } };
  const back = n === 1 ? { label: say`Cart`, to: { cart: walk.cart } } : before;
  const begin = async () => {
    await app.seePass(await app.moveTo(walk, n), number);
    app.go({ walk: walk.id, at: n }, { replace: true });
  };
  return {
    title: pass.label,
    className: "screen-pass",
    parts: [
      walkBar(app, walk, { back, list: { label: "All checks", to: { walk: walk.id, page: "review" } } }),
      h("section.pass-words",
        h("p.pass-name", `Part ${passes.indexOf(number) + 1} of ${passes.length}`),
        heading(pass.label),
        notice(app),
        pass.note && h("p.pass-note", pass.note),
        h("p", `${count(checks, "check")} at ${count(here.length, "place")}.`),
      ),
      lapFigure(cart.lap, { label: `Plan of ${cart.fleet_number} seen from above`, className: "lap-pass" }),
      h("div.foot", button(`Start: ${pass.label}`, { class: "main-choice", click: begin })),
    ],
  };
}
