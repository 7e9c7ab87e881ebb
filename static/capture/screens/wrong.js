// What is wrong, on one screen: how bad, a photo, a few words.

import { doNotLeave } from "../collecting.js";
import { button, h, mark } from "../dom.js";
import { faultGaps, gradesFrom, isPicked, itemAt, needsPhoto, withPhotos } from "../walk.js";
import { checkName, entryWords, limitWords } from "../words.js";
import { NO_ROOM, cameFrom, faultOf, goOnward, noCameraWords } from "./answering.js";
import { heading, notice, walkBar } from "./bar.js";
import { TOO_MANY_PHOTOS, noCamera, photoStrip } from "./photos.js";

const PHRASES_SHOWN = 5;

/** What the entry already says, and the limit it broke. Shown only now, after the entry. */
function whatWasEntered(fault, item, check) {
  const said = entryWords(fault, check);
  const limit = fault.least && fault.value && item.limit ? ` Limit: ${limitWords(item.limit)}.` : "";
  return said && h("p.large", `${said}.${limit}`);
}

function gradeNote(app, fault, check, chosen) {
  if (chosen) return `${fault.least === chosen.key ? "Set by what you entered. " : ""}${chosen.means}`;
  const usual = app.reference.grades.find((grade) => grade.key === check.grade);
  return usual ? `Usual here: ${usual.label.toLowerCase()}.` : "";
}

function gradeChoices(app, fault, check, pick) {
  const { grades } = app.reference;
  const allowed = fault.least ? gradesFrom(grades, fault.least) : grades;
  const one = ({ key, label }) => {
    const pressed = { "aria-pressed": String(fault.grade === key), click: () => pick(key) };
    return button(label, { id: `grade-${key}`, class: "answer grade-choice", ...pressed }, mark(key));
  };
  const note = gradeNote(app, fault, check, grades.find((grade) => grade.key === fault.grade));
  return h(
    "fieldset",
    { id: "grade", tabindex: "-1" },
    h("legend", "How bad is it? ", h("span.aside", note)),
    h("div.grades", allowed.map(one)),
  );
}

function wordsPart(app, fault, change) {
  const input = () => change({ words: box.value });
  const box = h("textarea", { id: "words", rows: "2", maxlength: "400", value: fault.words, input });
  const chip = (phrase) => {
    const click = () => {
      box.value = [box.value.trim(), phrase].filter(Boolean).join(", ");
      input();
    };
    return button(phrase, { class: "plain phrase", click });
  };
  const { phrases } = app.reference;
  const holder = h("div.phrases", { role: "group", "aria-label": "Often used words" });
  let first = 0;
  const fill = () =>
    holder.replaceChildren(
      ...phrases.slice(first, first + PHRASES_SHOWN).map(chip),
      phrases.length > PHRASES_SHOWN ? more : "",
    );
  const more = button("Other words", {
    class: "plain phrase",
    click: () => {
      first = first + PHRASES_SHOWN < phrases.length ? first + PHRASES_SHOWN : 0;
      fill();
      more.focus();
    },
  });
  fill();
  return h("div.words-part", h("label.part-name", { for: "words" }, "What is wrong, in a few words"), box, holder);
}

function photoPart(app, now, change, picked) {
  const fault = now();
  const strip = photoStrip(app, {
    hashes: fault.photos,
    taken: async (hashes) => {
      const { photos, left_out } = withPhotos(now().photos, hashes);
      if (left_out) app.tell(TOO_MANY_PHOTOS);
      await change({ photos, no_camera: false }, "take");
    },
    removed: (hash) => change({ photos: now().photos.filter((one) => one !== hash) }, "take"),
    trouble: (sentence) => {
      app.tell(sentence);
      app.redraw("take");
    },
    label: fault.photos.length ? "One more photo" : "Take a photo",
  });
  const without = () => change({ no_camera: !fault.no_camera }, "no-camera");
  return h("div.photo-part", { id: "photo", tabindex: "-1", role: "group", "aria-label": "Photo" },
    h("p.part-name", "Photo ", h("span.aside", picked || needsPhoto(fault.grade) ? "Needed for this." : "")),
    h("div.photo-row", strip, !fault.photos.length && noCamera(fault.no_camera, without)),
  );
}

function gapList(gaps) {
  const link = ({ field, sentence }) => {
    const click = (event) => {
      event.preventDefault();
      document.getElementById(field).focus();
    };
    return h("li", h("a", { href: `#${field}`, click }, sentence));
  };
  return h("div.gaps", { id: "gaps", role: "alert", tabindex: "-1" }, h("ul", gaps.map(link)));
}

async function keepFault(app, walk, n, fault, noRoom) {
  const said = fault.words.trim().replace(/([^.!?])$/, "$1.");
  const words = [said, noCameraWords(fault)].filter(Boolean).join(" ");
  const { grade, photos, value, unit, choice } = fault;
  let next;
  try {
    next = await app.keep(walk, n, { answer: "wrong", grade, photos, words, value, unit, choice });
  } catch {
    return noRoom();
  }
  app.say("Kept.");
  return goOnward(app, next, n, cameFrom());
}

/** The screen. All of it is a draft in the store from the first press on. */
export function wrongScreen(app, walk, n) {
  const item = itemAt(walk, n);
  const check = walk.checks[item.check];
  const picked = isPicked(walk, item);
  const now = () => faultOf(app, walk, n);
  const fault = now();
  const told = h("div.told");
  const noRoom = () => told.replaceChildren(h("p", { role: "alert" }, NO_ROOM));

  // What was pressed is shown as pressed only once the store has it. One change at a time, laid over the one before:
  // on a slow disk a grade pressed after the last letter must not put the words back to what they were.
  let kept = Promise.resolve();
  const keepPart = async (part, focusId) => {
    try {
      await app.keepDraft(walk, n, { ...now(), ...part });
    } catch {
      noRoom();
      return;
    }
    if (focusId) app.redraw(focusId);
  };
  const change = (part, focusId) => (kept = kept.then(() => keepPart(part, focusId)));
  const save = async () => {
    await kept;
    const whole = now();
    const gaps = faultGaps({ ...whole, told: Boolean(whole.least), picked });
    if (gaps.length) {
      told.replaceChildren(gapList(gaps));
      document.getElementById("gaps").focus();
      return;
    }
    await keepFault(app, walk, n, whole, noRoom);
  };
  return {
    title: `What is wrong: ${check.title}`,
    className: "screen-wrong",
    parts: [
      walkBar(app, walk, { back: { label: "Back", to: { walk: walk.id, at: n, ...cameFrom() } } }),
      told,
      h("div.wrong-head",
        heading(checkName(item, check)),
        whatWasEntered(fault, item, check),
        check.if_not && h("p", check.if_not),
        notice(app),
        doNotLeave(app, walk, { always: true }),
      ),
      gradeChoices(app, fault, check, (grade) => change({ grade }, `grade-${grade}`)),
      h("div.wrong-parts", photoPart(app, now, change, picked), wordsPart(app, fault, change)),
      h("div.foot", button("Save what’s wrong", { class: "main-choice", click: save })),
    ],
  };
}
