// What is wrong, on one screen: how bad, a photo, a few words.

import { button, h, mark } from "../dom.js";
import { faultGaps, gradesFrom, itemAt, needsPhoto } from "../walk.js";
import { checkName, limitWords, monthWords, withUnit } from "../words.js";
import { cameFrom, faultOf, goOnward, noCameraWords } from "./answering.js";
import { notice, walkBar } from "./bar.js";
import { photoStrip } from "./photos.js";

const PHRASES_SHOWN = 5;

/** What the entry already says, and the limit it broke. Shown only now, after the entry. */
function whatWasEntered(fault, item, check) {
  const choice = fault.choice && check.choices.find((one) => one.key === fault.choice).label;
  const value = fault.value && (check.answer === "date" ? monthWords(fault.value) : withUnit(fault.value, fault.unit));
  const limit = fault.least && fault.value && item.limit ? ` Limit: ${limitWords(item.limit)}.` : "";
  return (value || choice) && h("p", { class: "large" }, `${value || choice}.${limit}`);
}

function gradeChoices(app, fault, check, pick) {
  const usual = !fault.least && app.reference.grades.find((grade) => grade.key === check.grade);
  const allowed = fault.least ? gradesFrom(app.reference.grades, fault.least) : app.reference.grades;
  const one = (grade) =>
    h(
      "button",
      { type: "button", id: `grade-${grade.key}`, class: "answer grade-choice", "aria-pressed": String(fault.grade === grade.key), click: () => pick(grade.key) },
      mark(grade.key),
      h("span", { class: "label" }, grade.label),
    );
  const chosen = allowed.find((grade) => grade.key === fault.grade);
  const byEntry = fault.least && fault.least === fault.grade ? "Set by what you entered. " : "";
  const told = chosen ? byEntry + chosen.means : fault.least ? "Set by your entry; worse is yours to say." : usual ? `Usual here: ${usual.label.toLowerCase()}.` : "";
  return h(
    "fieldset",
    { id: "grade", tabindex: "-1" },
    h("legend", {}, "How bad is it? ", h("span", { class: "aside" }, told)),
    h("div", { class: "grades" }, allowed.map(one)),
  );
}

function wordsPart(app, fault, change) {
  const box = h("textarea", { id: "words", rows: "2", maxlength: "400", "aria-label": "What is wrong, in a few words", value: fault.words });
  box.addEventListener("input", () => change({ words: box.value }));
  const phrases = app.reference.phrases;
  const put = (phrase) => () => {
    box.value = [box.value.trim(), phrase].filter(Boolean).join(", ");
    change({ words: box.value });
  };
  const chip = (phrase) => button(phrase, { class: "plain phrase", click: put(phrase) });
  const holder = h("div", { class: "phrases", role: "group", "aria-label": "Often used words" }, phrases.slice(0, PHRASES_SHOWN).map(chip));
  if (phrases.length > PHRASES_SHOWN) {
    const more = button("Other words", { class: "plain phrase", click: () => turnOver() });
    let page = 0;
    const turnOver = () => {
      page = (page + 1) % Math.ceil(phrases.length / PHRASES_SHOWN);
      holder.replaceChildren(...phrases.slice(page * PHRASES_SHOWN).slice(0, PHRASES_SHOWN).map(chip), more);
      more.focus();
    };
    holder.append(more);
  }
  return h("div", { class: "words-part" }, h("label", { class: "part-name", for: "words" }, "A few words"), box, holder);
}

function photoPart(app, fault, change) {
  const needed = needsPhoto(fault.grade);
  const strip = photoStrip(app, {
    hashes: fault.photos,
    taken: (hash) => change({ photos: [...new Set([...fault.photos, hash])], no_camera: false }, "take"),
    removed: (hash) => change({ photos: fault.photos.filter((one) => one !== hash) }, "take"),
    label: fault.photos.length ? "One more photo" : "Take a photo",
  });
  const without =
    !fault.photos.length &&
    button("No camera", {
      id: "no-camera",
      class: "plain",
      "aria-pressed": String(fault.no_camera),
      click: () => change({ no_camera: !fault.no_camera }, "no-camera"),
    });
  return h(
    "div",
    { class: "photo-part", id: "photo", tabindex: "-1", role: "group", "aria-label": "Photo" },
    h("p", { class: "part-name" }, "Photo ", h("span", { class: "aside" }, needed ? "Needed for this." : "")),
    h("div", { class: "photo-row" }, strip, without),
  );
}

function gapList(gaps) {
  const link = (gap) => h("li", {}, h("a", { href: `#${gap.field}`, click: (event) => { event.preventDefault(); document.getElementById(gap.field).focus(); } }, gap.sentence));
  return h("div", { class: "gaps", id: "gaps", role: "alert", tabindex: "-1" }, h("ul", {}, gaps.map(link)));
}

async function keepFault(app, walk, n, fault) {
  const said = fault.words.trim().replace(/([^.!?])$/, "$1.");
  const words = [said, noCameraWords(fault)].filter(Boolean).join(" ");
  const { grade, photos, value, unit, choice } = fault;
  const next = await app.keep(walk, n, { answer: "wrong", grade, photos, words, value, unit, choice });
  app.say("Kept.");
  return goOnward(app, next, n, cameFrom());
}

/** The screen. All of it is a draft in the store from the first press on. */
export function wrongScreen(app, walk, n) {
  const item = itemAt(walk, n);
  const check = walk.checks[item.check];
  let fault = faultOf(app, walk, n);
  const told = h("div", { class: "told" });

  // Only what was pressed is drawn again, and only once the store has it.
  const change = async (part, focusId) => {
    try {
      fault = await app.keepDraft(walk, n, { ...faultOf(app, walk, n), ...part });
    } catch {
      told.replaceChildren(h("p", { role: "alert" }, "Not kept: the tablet had no room for it. Try again."));
      return;
    }
    if (focusId) app.redraw(focusId);
  };
  const save = async () => {
    fault = faultOf(app, walk, n);
    const gaps = faultGaps({ ...fault, told: Boolean(fault.least) });
    if (gaps.length) {
      told.replaceChildren(gapList(gaps));
      document.getElementById("gaps").focus();
      return;
    }
    try {
      await keepFault(app, walk, n, fault);
    } catch {
      told.replaceChildren(h("p", { role: "alert" }, "Not kept: the tablet had no room for it. Try again."));
    }
  };
  return {
    title: `What is wrong: ${check.title}`,
    className: "screen-wrong",
    parts: [
      walkBar(app, walk, { back: { label: "Back", to: { walk: walk.id, at: n, ...cameFrom() } } }),
      told,
      h(
        "div",
        { class: "wrong-head" },
        h("h1", { tabindex: "-1", "data-focus": true }, checkName(item, check)),
        whatWasEntered(fault, item, check),
        check.if_not && h("p", {}, check.if_not),
        notice(app),
      ),
      gradeChoices(app, fault, check, (grade) => change({ grade }, `grade-${grade}`)),
      h("div", { class: "wrong-parts" }, photoPart(app, fault, change), wordsPart(app, fault, change)),
      h("div", { class: "foot" }, button("Save what’s wrong", { class: "main-choice", click: save })),
    ],
  };
}
