// What can be answered to one check, and what each answer leads to.

import { button, h, mark } from "../dom.js";
import { keeps } from "../limits.js";
import { say } from "../say.js";
import { graver, isPicked, itemAt, onward } from "../walk.js";
import { answerWords, limitWords, monthWords, withUnit } from "../words.js";
import { isNumber, monthPad, numberPad } from "./pads.js";

// Long enough to see that the answer took.
const SEEN_MS = 200;
// Long enough that the second half of a double tap, which was meant for the check before, lands on nothing.
const SETTLE_MS = 250;

const LABELS = {
  good: "Good",
  wrong: "Something’s wrong",
  not_on_cart: say`Not on this cart`,
  could_not_check: "Couldn’t check",
};

/** Moves on from check n: to the review when it came from there or nothing is left ahead, else to the next check. */
export async function goOnward(app, walk, n, { from } = {}) {
  const next = from === "review" ? null : onward(walk, n);
  if (next === null) return app.go({ walk: walk.id, page: "review" });
  await app.moveTo(walk, next);
  return app.go({ walk: walk.id, at: next });
}

/** Has the buttons of an entry take nothing until the screen has settled; gives what to do once it is shown. */
export function settling(below) {
  for (const one of below.querySelectorAll("button")) one.disabled = true;
  const wake = () => below.querySelectorAll("button").forEach((one) => (one.disabled = false));
  return () => setTimeout(wake, SETTLE_MS);
}

/** The address parts that bring a screen back to where it was opened from. */
export const cameFrom = () => {
  const from = new URLSearchParams(location.hash.slice(1)).get("from");
  return from ? { from } : {};
};

const shown = (answer, kind) => answer?.answer === kind && (kind === "wrong" || !answer.value);

/** Which answers a check offers besides its own value or choices. */
function kinds(check) {
  const list = check.answer === "sound" ? ["good", "wrong"] : ["wrong"];
  if (check.may_be_absent) list.push("not_on_cart");
  return [...list, "could_not_check"];
}

const ENTRY = { value: null, unit: null, choice: null };
const BLANK = { ...ENTRY, grade: null, least: null, words: "", photos: [], no_camera: false };
const PHOTO_FIRST = "This one wants a photo. Take it first, or say there is no camera.";
const NO_PHOTO = "No photo: no camera.";
export const NO_ROOM = "Not kept: there was no room for it. Nothing else is lost. Try again.";

/** The words that go with an answer when a photo was wanted and there was nothing to take it with. */
export const noCameraWords = ({ no_camera: without, photos }) => (without && !photos.length ? NO_PHOTO : "");

/** The fault as it stands for check n: what was kept of it before, and what is half told now. */
export function faultOf(app, walk, n) {
  const kept = walk.answers[n];
  const photos = kept?.photos ?? [];
  const bare = kept?.answer === "wrong" ? kept.words.replace(NO_PHOTO, "").trim() : "";
  const fault = { ...BLANK, photos, words: bare, no_camera: Boolean(kept?.words.endsWith(NO_PHOTO)) };
  if (kept?.answer === "wrong") {
    for (const part of ["grade", "value", "unit", "choice"]) fault[part] = kept[part] ?? null;
  }
  return { ...fault, ...app.draft(walk, n) };
}

/**
 * Everything that can happen to check n of a walk, for the screen to lay out: keep an answer, go and say what is
 * wrong, say why not (in `told`).
 */
export function answering(app, walk, n) {
  const item = itemAt(walk, n);
  const check = walk.checks[item.check];
  const told = h("p.told", { role: "alert" });
  const before = () => faultOf(app, walk, n);
  const picked = isPicked(walk, item);
  // Photos taken here belong to a check that asks for one; those taken for a fault stay with the fault.
  const wanted = check.photo || picked;
  let busy = false;

  const complain = (sentence) => {
    told.textContent = sentence;
  };
  const pictures = () => (wanted ? before() : BLANK);

  async function keep(answer, pressed, also = "") {
    if (busy) return;
    busy = true;
    let next;
    try {
      const { photos } = pictures();
      next = await app.keep(walk, n, { ...answer, photos, words: noCameraWords(pictures()) });
    } catch {
      busy = false;
      complain(NO_ROOM);
      return;
    }
    pressed?.setAttribute("aria-pressed", "true");
    app.last_kept = `Kept: ${answerWords(next.answers[n], check, app.reference)}${also}.`;
    app.say(app.last_kept);
    const here = location.hash;
    // Whoever has pressed Back meanwhile is not pulled forward again.
    setTimeout(() => location.hash === here && goOnward(app, next, n, cameFrom()), SEEN_MS);
  }

  async function toWrong(carried) {
    const earlier = before();
    const least = carried.least ?? null;
    // A grade the limit set goes when the entry it came from goes.
    const grade = earlier.least === least ? graver(earlier.grade, least) : least;
    try {
      await app.keepDraft(walk, n, { ...earlier, ...ENTRY, ...carried, least, grade });
      app.go({ walk: walk.id, page: "wrong", at: n, ...cameFrom() });
    } catch {
      complain(NO_ROOM);
    }
  }

  const keepPictures = (part) => app.keepDraft(walk, n, { ...before(), ...part });
  const lacksPhoto = () => wanted && !pictures().photos.length && !pictures().no_camera;
  return { item, check, picked, wanted, told, complain, keep, toWrong, pictures, keepPictures, lacksPhoto };
}

/** The button of one kind of answer; `entered()` gives what stands on a pad. */
export function answerButton(app, walk, n, act, kind, entered) {
  const press = (event) => {
    const pressed = event.currentTarget;
    if (kind === "wrong") return act.toWrong(entered());
    if (kind === "could_not_check") return app.go({ walk: walk.id, page: "why", at: n, ...cameFrom() });
    if (kind === "good" && act.lacksPhoto()) return act.complain(PHOTO_FIRST);
    return act.keep({ answer: kind }, pressed);
  };
  const chosen = String(shown(walk.answers[n], kind));
  return button(LABELS[kind], { class: `answer answer-${kind}`, "aria-pressed": chosen, click: press }, mark(kind));
}

// A value is judged only once it is entered, so that the limit cannot be read off and written down instead.
function judged({ item, check }, value) {
  const entry = { value, unit: check.unit || null };
  return item.limit && !keeps(item.limit, value) ? { ...entry, least: item.limit.grade } : entry;
}

function takeValue(act, value) {
  if (!isNumber(value)) return act.complain("Enter the value first.");
  if (act.lacksPhoto()) return act.complain(PHOTO_FIRST);
  let entry;
  try {
    entry = judged(act, value);
  } catch {
    return act.complain("This page can’t judge that value. Load the page again, or say you couldn’t check.");
  }
  if (entry.least) return act.toWrong(entry);
  const { limit } = act.item;
  return act.keep({ answer: "good", ...entry }, null, limit ? ` (${limitWords(limit)})` : "");
}

function measureEntry(app, walk, n, act) {
  const save = () => takeValue(act, number.value());
  const label = h("span.label");
  const { title, unit } = act.check;
  const number = numberPad({
    title,
    unit,
    start: walk.answers[n]?.value ?? "",
    enter: save,
    told: (value) => {
      label.textContent = isNumber(value) ? `Save ${withUnit(value, unit)}` : "Save value";
    },
  });
  return {
    pad: number.pad,
    entry: [number.readout, h("button", { type: "button", class: "main-choice save", click: save }, label)],
    entered: () => (isNumber(number.value()) ? judged(act, number.value()) : {}),
  };
}

function dateEntry(app, walk, n, act) {
  const label = h("span.label");
  const month = monthPad({
    year: Number(app.now().slice(0, 4)),
    start: walk.answers[n]?.value ?? "",
    told: (value) => {
      label.textContent = value ? `Save ${monthWords(value)}` : "Save date";
    },
  });
  const save = () => {
    const value = month.value();
    if (!value) return act.complain("Pick the month and the year first.");
    if (act.lacksPhoto()) return act.complain(PHOTO_FIRST);
    return act.keep({ answer: "good", value });
  };
  return {
    years: month.years,
    pad: month.pad,
    entry: [h("button", { type: "button", class: "main-choice save", click: save }, label)],
    entered: () => (month.value() ? { value: month.value() } : {}),
  };
}

function choiceEntry(app, walk, n, act) {
  const answer = walk.answers[n];
  const pick = (choice) => (event) => {
    if (act.lacksPhoto()) return act.complain(PHOTO_FIRST);
    if (choice.grade) return act.toWrong({ choice: choice.key, least: choice.grade });
    return act.keep({ answer: "good", choice: choice.key }, event.currentTarget);
  };
  const one = (choice) => {
    const chosen = String(answer?.choice === choice.key);
    return button(choice.label, { class: "answer choice", "aria-pressed": chosen, click: pick(choice) });
  };
  const count = act.check.choices.length;
  const columns = count > 6 ? "choices choices-three" : count > 3 ? "choices choices-two" : "choices";
  return {
    pad: h("div", { class: columns, role: "group", "aria-label": "What it is" }, act.check.choices.map(one)),
    entry: [],
    entered: () => ({}),
  };
}

const ENTRIES = { measure: measureEntry, date: dateEntry, choice: choiceEntry };

/** The answers of one check, laid out at both edges. What is pressed most lies lowest. */
export function answers(app, walk, n, act) {
  const make = (kind, entered) => answerButton(app, walk, n, act, kind, entered);
  const offered = kinds(act.check);
  const entry = ENTRIES[act.check.answer]?.(app, walk, n, act);
  const frame = (kind, ...parts) =>
    h("section", { class: `answers ${kind}`, "aria-label": "Answers" }, act.told, h("div.sides", parts));
  if (entry) {
    return frame(
      `has-pad answer-${act.check.answer}`,
      entry.years,
      h("div.side-hand", entry.pad),
      entry.entry.length > 0 && h("div.side-entry", entry.entry),
      h("div.side-other", offered.map((kind) => make(kind, entry.entered))),
    );
  }
  const [hand, other] = [["good", "not_on_cart"], ["wrong", "could_not_check"]].map((side) =>
    side.filter((kind) => offered.includes(kind)).map((kind) => make(kind, () => ({}))),
  );
  return frame("answer-sound", h("div.side-hand", hand), h("div.side-other", other));
}
