// Whether an entered value keeps its limit: the twin of inspections/limits.py. Both are held to one table of cases.

const DECIMAL = /^(-?)(\d+)(?:\.(\d+))?$/;

// Compared as whole numbers of the smaller unit, because 0.1 + 0.2 in floating point is not 0.3 and a tyre at exactly
// its limit must be judged alike here and in the yard.
function difference(one, other) {
  const parts = [one, other].map((text) => {
    const match = DECIMAL.exec(text);
    if (!match) throw new RangeError(`"${text}" is not a number`);
    return match;
  });
  const places = Math.max(...parts.map((part) => (part[3] ?? "").length));
  const [a, b] = parts.map(([, sign, whole, fraction = ""]) => BigInt(sign + whole + fraction.padEnd(places, "0")));
  return a < b ? -1 : a > b ? 1 : 0;
}

const KEEPS = {
  ">=": (value, low) => difference(value, low) >= 0,
  "<=": (value, low) => difference(value, low) <= 0,
  ">": (value, low) => difference(value, low) > 0,
  "<": (value, low) => difference(value, low) < 0,
  between: (value, low, high) => difference(value, low) >= 0 && difference(value, high) <= 0,
};

/** Whether `value` (decimal text) keeps `limit` {op, value, high}. RangeError on an op or number it does not know. */
export function keeps(limit, value) {
  const rule = KEEPS[limit.op];
  if (!rule) throw new RangeError(`unknown limit "${limit.op}"`);
  return rule(value, limit.value, limit.high);
}
