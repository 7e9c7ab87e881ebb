// A flow and evenness test as plain data: a walk of one stop, whose items are the pressure and then each head. No page,
// no clock, no store in here.

import { judge, percent, tenths } from "./evenness.js";
import { count } from "./words.js";

/** The purpose under which it stands beside the walk-rounds. */
export const HEADS = "heads_test";

/** A new test of the heads on record of a cart. `at` is an ISO instant, `id` a uuid. */
export function openHeadsTest({ id, cart, reference, at }) {
  const { sheets, ...face } = reference.carts.find((one) => one.id === cart);
  return {
    id,
    cart,
    purpose: HEADS,
    started_at: at,
    words: "",
    items: [{ n: 1, head: null }, ...face.spray.heads.map((head, index) => ({ n: index + 2, head }))],
    checks: {},
    face,
    answers: {},
    position: 1,
    passes_seen: [],
  };
}

/** The litres and seconds of each head that was caught, with what the head is when new. */
export const catchesOf = (walk) =>
  walk.items
    .filter(({ n, head }) => head && walk.answers[n]?.answer === "good")
    .map(({ n, head }) => {
      const { value: litres, seconds, at } = walk.answers[n];
      return { ...head, litres, seconds, at };
    });

/** The seconds of the head caught last before item n; "" for the first. */
export function secondsBefore(walk, n) {
  const before = walk.items.filter((item) => item.n < n).map((item) => walk.answers[item.n]?.seconds);
  return before.findLast(Boolean) ?? "";
}

/** What it comes to by the figures this tablet has, as `judge` gives it; null while there is nothing to judge. */
export function figuresOf(walk, tolerance) {
  const pressure = walk.answers[1]?.value;
  const { head_kpa: head } = walk.face.spray;
  return pressure ? judge(catchesOf(walk), { pressure_kpa: pressure, head_kpa: head, tolerance_pct: tolerance }) : null;
}

/** "Christiansen 92.1 %, low quarter 84.2 %." */
export const headline = (found) =>
  `Christiansen ${tenths(found.christiansen_pct)} %, low quarter ${tenths(found.low_quarter_pct)} %.`;

const ADVICE = { good: "Good.", clean: "Clean it and measure again.", replace: "Change the nozzle." };

/** One head in words: its flow against new, and what to do. */
export const headWords = ({ flow, nominal, off_new: off, advice }) =>
  `${tenths(flow)} L/min, ${tenths(nominal)} when new, ${percent(off)} %. ${ADVICE[advice]}`;

/** "3 heads caught, 1 left out." */
export function countWords(walk) {
  const caught = catchesOf(walk).length;
  const left = walk.items.filter(({ n }) => walk.answers[n]?.answer === "could_not_check").length;
  return `${count(caught, "head")} caught${left ? `, ${left} left out` : ""}.`;
}

/** What must be put right before it can be signed, once every item has its answer; "" when nothing. */
export const gapOf = (walk) =>
  catchesOf(walk).some((one) => Number(one.litres) > 0) ? "" : "No head gave any water. Catch at least one, then sign.";

/** The whole record of a finished test. Measured values stay the text that was entered. */
function headsRecord(walk, { device, signature, author, signedAt }) {
  return {
    version: 1,
    kind: HEADS,
    id: walk.id,
    cart: walk.cart,
    sheet: walk.face.spray.sheet,
    started_at: walk.started_at,
    signed_at: signedAt,
    author,
    device,
    pressure_kpa: walk.answers[1].value,
    pressure_at: walk.answers[1].at,
    catches: catchesOf(walk).map(({ id: head, name, litres, seconds, at }) => ({ head, name, litres, seconds, at })),
    words: walk.words,
    signature,
  };
}

/**
 * The figures of a record the yard refused, as the answers of a new test: of the same heads, or where the yard has
 * others by now, of those of the same name. A head left out, and one of another name, is asked for again.
 */
function answersAgain(record, walk) {
  const kept = { photos: [], words: "", answer: "good" };
  const answers = { 1: { ...kept, value: record.pressure_kpa, unit: "kPa", at: record.pressure_at } };
  for (const { n, head } of walk.items.slice(1)) {
    const caught =
      record.catches.find((one) => one.head === head.id) ?? record.catches.find((one) => one.name === head.name);
    if (caught) answers[n] = { ...kept, value: caught.litres, unit: "L", seconds: caught.seconds, at: caught.at };
  }
  return answers;
}

/** A test begun anew with the figures of a record the yard refused, past its first page. */
export function openAgain(record, { id, reference }) {
  const fresh = openHeadsTest({ id, cart: record.cart, reference, at: record.started_at });
  return { ...fresh, answers: answersAgain(record, fresh), words: record.words, passes_seen: [1] };
}

/** The record of a finished test, and what its parcel tells of it until the yard has judged it. */
export function signedHeads(walk, by, { purposes }) {
  const found = figuresOf(walk, purposes[HEADS].tolerance_pct);
  return [headsRecord(walk, by), { photos: [], own_words: found ? [headline(found), ...found.sentences] : [] }];
}
