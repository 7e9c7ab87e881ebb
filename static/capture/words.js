// Numbers, times and values as a person in the yard says them.

import { say } from "./say.js";

/** "1 check", "3 checks" */
export const count = (number, one, many = `${one}s`) => `${number} ${number === 1 ? one : many}`;

/** "Tuesday 7.42 am", or only "7.42 am" when it is the same day there as `now`. Both are ISO instants. */
export function moment(at, now, timeZone) {
  const day = (instant) => new Date(instant).toLocaleDateString("en-AU", { timeZone, dateStyle: "short" });
  const style = { timeZone, hour: "numeric", minute: "2-digit" };
  if (day(at) !== day(now)) style.weekday = "long";
  return new Date(at).toLocaleString("en-AU", style).replace(",", "").replace(":", ".");
}

/** A number beside its unit. Text from a gauge is shown as it was entered: 6.50 stays 6.50. */
export const withUnit = (value, unit) => (unit ? `${value} ${unit}` : value);

/** Whether the yard has this record and waits for its author to say that the name under it is theirs. */
export const isUnnamed = (parcel) => parcel.receipt?.name_confirmed === false;

const PHRASES = {
  ">=": (low, _high, unit) => `${withUnit(low, unit)} or more`,
  "<=": (low, _high, unit) => `${withUnit(low, unit)} or less`,
  ">": (low, _high, unit) => `more than ${withUnit(low, unit)}`,
  "<": (low, _high, unit) => `less than ${withUnit(low, unit)}`,
  between: (low, high, unit) => `${low} to ${withUnit(high, unit)}`,
};

/** "3.0 mm or more" */
export const limitWords = (limit) => PHRASES[limit.op](limit.value, limit.high, limit.unit);

const MONTHS = "January February March April May June July August September October November December".split(" ");
export const monthNames = MONTHS;

/** "March 2027" from "2027-03" */
export const monthWords = (text) => `${MONTHS[Number(text.slice(5, 7)) - 1]} ${text.slice(0, 4)}`;

/** What was entered or chosen, in words: "2.4 mm", "March 2027", "Between the marks"; "" when nothing was. */
export function entryWords({ value, unit, choice }, check) {
  if (value) return check.answer === "date" ? monthWords(value) : withUnit(value, unit);
  return choice ? check.choices.find((one) => one.key === choice).label : "";
}

/** What was answered, in words: "Good", "2.4 mm: something's wrong", "Couldn't check: dark". */
export function answerWords(answer, check, reference) {
  const shown = entryWords(answer, check);
  const why = answer.why && reference.why_not.find((one) => one.key === answer.why).label;
  const grade = answer.grade && reference.grades.find((one) => one.key === answer.grade).label;
  const plain = {
    good: shown ? `${shown}, good` : "Good",
    wrong: [shown, "something’s wrong", grade?.toLowerCase()].filter(Boolean).join(", "),
    not_on_cart: say`Not on this cart`,
    could_not_check: `Couldn’t check: ${why}`,
  }[answer.answer];
  return plain[0].toUpperCase() + plain.slice(1);
}

/** "Tyre tread, outer left" */
export const checkName = (item, check) => (item.place_label ? `${check.title}, ${item.place_label}` : check.title);
