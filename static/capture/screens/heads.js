// A flow and evenness test on the screen: what to mind, then the pressure, then litres and seconds head by head, then
// what it comes to.

import { button, h, mark } from "../dom.js";
import { countWords, figuresOf, gapOf, headWords, headline, secondsBefore } from "../heads.js";
import { lapFigure } from "../lap.js";
import { say } from "../say.js";
import { itemAt, unanswered } from "../walk.js";
import { count, withUnit } from "../words.js";
import { NO_ROOM, cameFrom, goOnward, settling } from "./answering.js";
import { bar, heading, notice, walkBar, whereItIs } from "./bar.js";
import { isNumber, numberPad } from "./pads.js";

// Where the heads are on the plan.
const STATION = "rear";
const MOST_WORDS = 160;
const asked = (app, walk) => app.reference.purposes[walk.purpose];
const nameOf = ({ head }) => (head ? head.name : "Pressure at the heads");

function startScreen(app, walk, n) {
  const { label, must } = asked(app, walk);
  const begin = async () => {
    await app.seePass(walk, 1);
    app.go({ walk: walk.id, at: n }, { replace: true });
  };
  return {
    title: label,
    className: "screen-pass",
    parts: [
      walkBar(app, walk, { back: { label: say`Cart`, to: { cart: walk.cart } } }),
      h("section.pass-words",
        heading(label),
        notice(app),
        h("p.pass-note", must),
        h("p", say`The pressure, then litres and seconds of ${count(walk.items.length - 1, "head")}, one at a time.`),
      ),
      lapFigure(walk.face.lap, {
        label: `Plan of ${walk.face.fleet_number} seen from above`,
        station: STATION,
        className: "lap-pass",
      }),
      h("div.foot", button("Start: the pressure", { class: "main-choice", click: begin })),
    ],
  };
}

const partAsked = () => new URLSearchParams(location.hash.slice(1)).get("part");
const litresOf = (app, walk, n) => app.draft(walk, n)?.litres ?? walk.answers[n]?.value ?? "";

/** What item n asks for next: its words, the figure it starts with, what is wrong with a figure, and what keeps it. */
function stepOf(app, walk, n) {
  const { head } = itemAt(walk, n);
  const zero = (what) => (value) => (Number(value) > 0 ? "" : `${what} has to be above zero.`);
  const kept = (answer) => app.keep(walk, n, { answer: "good", ...answer });
  if (!head) {
    return {
      title: "Pressure at the heads",
      help: "Read the gauge with these heads open. 100 kPa is 14.5 psi.",
      unit: "kPa",
      most: { whole: 6, decimals: 1 },
      start: walk.answers[n]?.value ?? "",
      wrong: zero("The pressure"),
      keep: (value) => kept({ value, unit: "kPa" }),
    };
  }
  const litres = litresOf(app, walk, n);
  const seconds = walk.answers[n]?.seconds ?? "";
  if (partAsked() === "seconds" && litres) {
    return {
      title: "Seconds it ran",
      help: `${head.name} gave ${litres} L.`,
      unit: "s",
      most: { whole: 4, decimals: 1 },
      start: seconds,
      wrong: zero("The time"),
      before: secondsBefore(walk, n),
      keep: (value) => kept({ value: litres, unit: "L", seconds: value }),
    };
  }
  return {
    title: say`Litres caught`,
    help: `${head.nozzle}. What this head gave into the bucket, and nothing else.`,
    unit: "L",
    most: { whole: 4, decimals: 2 },
    start: litres,
    wrong: () => "",
    mayBeLeft: true,
    // Put right after its seconds were told, it stands with those from now on.
    keep: (value) => (seconds ? kept({ value, unit: "L", seconds }) : app.keepDraft(walk, n, { litres: value })),
    next: () => app.go({ walk: walk.id, at: n, part: "seconds", ...cameFrom() }),
  };
}

/** Keeps what was entered, then goes on by `next`, or to the next item; what the store would not keep is told. */
function keeper(app, walk, n, told) {
  let busy = false;
  return async (work, words, next = () => goOnward(app, app.walks.get(walk.id), n, cameFrom())) => {
    if (busy) return;
    busy = true;
    try {
      await work();
    } catch {
      busy = false;
      told.textContent = NO_ROOM;
      return;
    }
    app.last_kept = `Kept: ${nameOf(itemAt(walk, n))}, ${words}.`;
    app.say(app.last_kept);
    await next();
  };
}

function entry(app, walk, n, step) {
  const told = h("p.told", { role: "alert" });
  const keep = keeper(app, walk, n, told);
  const take = (value) => {
    const wrong = isNumber(value) ? step.wrong(value) : "Enter the value first.";
    if (wrong) told.textContent = wrong;
    else keep(() => step.keep(value), withUnit(value, step.unit), step.next);
  };
  const label = h("span.label");
  const number = numberPad({
    title: `${nameOf(itemAt(walk, n))}: ${step.title}`,
    unit: step.unit,
    start: step.start,
    most: step.most,
    enter: () => take(number.value()),
    told: (value) => {
      label.textContent = isNumber(value) ? `Save ${withUnit(value, step.unit)}` : "Save value";
    },
  });
  const leaveOut = () => keep(() => app.keep(walk, n, { answer: "could_not_check" }), "left out");
  const again = step.before && step.before !== step.start;
  return h("section.answers.has-pad.answer-measure", { "aria-label": "Figures" },
    told,
    h("div.sides",
      h("div.side-hand", number.pad),
      h("div.side-entry",
        number.readout,
        h("button", { type: "button", class: "main-choice save", click: () => take(number.value()) }, label),
      ),
      h("div.side-other",
        again && button(`${step.before} s, as before`, { class: "answer", click: () => take(step.before) }),
        step.mayBeLeft && button("Leave this head out", { class: "answer", click: leaveOut }, mark("could_not_check")),
      ),
    ),
  );
}

function stepBack(app, walk, n) {
  const from = cameFrom();
  if (partAsked() === "seconds") return { label: say`Litres`, to: { walk: walk.id, at: n, ...from } };
  if (from.from) return { label: "All heads", to: { walk: walk.id, page: "review" } };
  if (n === 1) return { label: say`Cart`, to: { cart: walk.cart } };
  return { label: "Back", click: async () => app.go({ walk: (await app.moveTo(walk, n - 1)).id, at: n - 1 }) };
}

function stepOn(app, walk, n) {
  const label = walk.answers[n] ? "Next" : "Later";
  if (n === walk.items.length) return { label, to: { walk: walk.id, page: "review" } };
  return { label, click: async () => app.go({ walk: (await app.moveTo(walk, n + 1)).id, at: n + 1 }) };
}

/** The screen for item n: the pressure, or one head's litres and then its seconds. */
export function headsScreen(app, walk, n) {
  if (!walk.passes_seen.length) return startScreen(app, walk, n);
  const step = stepOf(app, walk, n);
  const name = nameOf(itemAt(walk, n));
  const below = entry(app, walk, n, step);
  const place = n === 1 ? asked(app, walk).label : `${name}, `;
  return {
    title: `${name}: ${step.title}`,
    className: "screen-check with-pad",
    parts: [
      walkBar(app, walk, {
        back: stepBack(app, walk, n),
        list: { label: "All heads", to: { walk: walk.id, page: "review" } },
        forward: stepOn(app, walk, n),
      }),
      h("section.question", { "aria-labelledby": "check" },
        h("div.question-words",
          h("h1", place, n > 1 && h("span.of", `${n - 1} of ${walk.items.length - 1}`)),
          notice(app),
          h("h2", { id: "check", tabindex: "-1", "data-focus": true }, step.title),
          h("p.look-for", step.help),
        ),
        lapFigure(walk.face.lap, { label: "You are at the heads", station: STATION, className: "lap-here" }),
      ),
      below,
    ],
    shown: settling(below),
  };
}

function said(walk, { n, head }, found) {
  const answer = walk.answers[n];
  if (!answer) return "No figure yet.";
  if (answer.answer === "could_not_check") return "Left out.";
  if (!head) return `${answer.value} kPa.`;
  const judged = found?.heads.find((one) => one.name === head.name);
  return `${answer.value} L in ${answer.seconds} s. ${judged ? headWords(judged) : ""}`.trim();
}

const SHAPES = { good: "good", clean: "wrong", replace: "wrong" };

function row(walk, item, found) {
  const answer = walk.answers[item.n]?.answer;
  const judged = item.head && answer === "good" && found?.heads.find((one) => one.name === item.head.name);
  const to = new URLSearchParams({ walk: walk.id, at: item.n, ...(answer && { from: "review" }) });
  return h("li",
    h("a.answer-row", { href: `#${to}` },
      mark(judged ? SHAPES[judged.advice] : (answer ?? "unanswered")),
      h("span", h("strong", nameOf(item)), h("span", said(walk, item, found))),
    ),
  );
}

function wordsPart(app, walk, told) {
  let kept = Promise.resolve();
  const input = () => {
    const { value } = box;
    kept = kept.then(() => app.keepWords(walk, value)).catch(() => {
      told.textContent = NO_ROOM;
    });
  };
  const box = h("textarea", { id: "words", rows: "2", maxlength: MOST_WORDS, value: walk.words, input });
  return { part: h("div", h("label.part-name", { for: "words" }, "Anything to add"), box), settled: () => kept };
}

/** The screen before signing: each head, and what they come to by what this tablet knows. */
export function headsReviewScreen(app, walk) {
  const { label, tolerance_pct: tolerance } = asked(app, walk);
  const found = figuresOf(walk, tolerance);
  const limits = `By spray figures ${walk.face.spray.version}; ${Number(tolerance)} % off new is out.`;
  const open = unanswered(walk);
  const told = h("p.told", { role: "alert", tabindex: "-1" });
  const words = wordsPart(app, walk, told);
  const sign = async () => {
    await words.settled();
    const missing = `No figure yet of: ${open.map(nameOf).join(", ")}. Enter it, or leave that head out.`;
    const gap = open.length ? missing : gapOf(walk);
    if (!gap) return app.go({ walk: walk.id, page: "sign" });
    told.textContent = gap;
    return told.focus();
  };
  return {
    title: "Check your figures",
    className: "screen-review",
    parts: [
      bar(app, {
        back: { label: "Back", to: { walk: walk.id, at: walk.position } },
        title: `${walk.face.fleet_number} · ${label}`,
        note: whereItIs(app, walk),
      }),
      h("div.review-head",
        heading("Check your figures"),
        h("p.large", countWords(walk)),
        notice(app),
        told,
        found && h("p.large", headline(found)),
        found?.sentences.map((one) => h("p", h("strong", one))),
        found && h("p", `${limits} The yard has the last word.`),
      ),
      h("section.review-part", h("h2", "Head by head"), h("ul", walk.items.map((item) => row(walk, item, found)))),
      words.part,
      h("div.foot", button("These are right: go and sign", { class: "main-choice", click: sign })),
    ],
  };
}
