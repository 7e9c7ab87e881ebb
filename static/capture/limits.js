// Whether an entered value keeps its limit: the twin of inspections/limits.py. tests/inspections/limit_cases.json holds
// the two together.

const DECIMAL = /^(-?)([0-9]+)(?:\.([0-9]+))?$/;
const GRADES = ["do_not_use", "by_date", "watch"];

// Compared as whole numbers of the smaller unit, because 0.1 + 0.2 in floating point is not 0.3 and a tyre at exactly
// its limit must be judged alike here and in the yard. Below 0: one is less; above 0: one is more.
function difference(one, other) {
  const parts = [one, other].map((text) => {
    const match = typeof text === "string" && DECIMAL.exec(text);
    if (!match) throw new RangeError(`“${text}” is not a number.`);
    return match;
  });
  const places = Math.max(...parts.map((part) => (part[3] ?? "").length));
  const [a, b] = parts.map(([, sign, whole, fraction = ""]) => BigInt(sign + whole + fraction.padEnd(places, "0")));
  return a < b ? -1 : a > b ? 1 : 0;
}

const KEEPS = {
  ">=": (value, limit) => difference(value, limit.value) >= 0,
  ">": (value, limit) => difference(value, limit.value) > 0,
  "<=": (value, limit) => difference(value, limit.value) <= 0,
  "<": (value, limit) => difference(value, limit.value) < 0,
  between: (value, limit) => difference(value, limit.value) >= 0 && difference(value, limit.high) <= 0,
};

function refuseBroken(limit) {
  const hasHigh = limit.high !== null && limit.high !== undefined;
  if (!Object.hasOwn(KEEPS, limit.op)) throw new RangeError(`“${limit.op}” is not a comparison.`);
  if (!GRADES.includes(limit.grade)) throw new RangeError(`“${limit.grade}” is not a grade.`);
  if ((limit.op === "between") !== hasHigh) throw new RangeError("Only “between” has a high end.");
  if (hasHigh && difference(limit.high, limit.value) < 0) throw new RangeError("The high end is below the low end.");
}

/**
 * Whether `value`, decimal text in the limit's own unit, keeps `limit` {op, value, high, grade}. RangeError when the
 * text is no number or the limit cannot be judged by; never a guess.
 */
export function keeps(limit, value) {
  refuseBroken(limit);
  return KEEPS[limit.op](value, limit);
}
