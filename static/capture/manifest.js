// The signed record as it travels: built once at signing, turned into one exact run of bytes, and never touched again.

/**
 * The one canonical JSON text of a value (RFC 8785) for what our wire carries: objects, arrays, strings, whole
 * numbers, null. Keys are sorted by UTF-16 code units. Throws RangeError on any other number, TypeError on any other
 * kind, so that two programs can never write the same value differently.
 */
export function canonical(value) {
  if (value === null) return "null";
  if (typeof value === "string") {
    if (/\p{Surrogate}/u.test(value)) throw new TypeError("a string with half a character in it has no canonical form");
    return JSON.stringify(value);
  }
  if (typeof value === "number") {
    if (!Number.isSafeInteger(value)) throw new RangeError(`${value} is not a whole number`);
    return String(value);
  }
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (typeof value !== "object") throw new TypeError(`${typeof value} does not travel`);
  const pairs = Object.keys(value).sort().map((key) => `${JSON.stringify(key)}:${canonical(value[key])}`);
  return `{${pairs.join(",")}}`;
}

/** SHA-256 of a string (as UTF-8), ArrayBuffer or typed array, as 64 lower-case hex digits. */
export async function sha256(content) {
  const bytes = typeof content === "string" ? new TextEncoder().encode(content) : content;
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

const orNull = (value) => (value === undefined || value === "" ? null : value);

/** One stored answer in the order and kinds the wire wants; a measured value stays the text that was entered. */
function travelling(item, answer) {
  return {
    n: item.n,
    check: item.check,
    place: item.place,
    answer: answer.answer,
    value: orNull(answer.value),
    unit: orNull(answer.unit),
    choice: orNull(answer.choice),
    grade: orNull(answer.grade),
    words: answer.words ?? "",
    why: orNull(answer.why),
    photos: answer.photos ?? [],
    at: answer.at,
  };
}

/**
 * The whole record of a finished walk.
 *
 * `walk` has id, cart, purpose, edition, rule_set, started_at, lot, items and answers by n; `device` {id, time_zone,
 * offset_ms} where offset_ms is the yard's clock less the tablet's; `signature` {kind, name, statement, strokes};
 * `author` {id, name, how}, who signs as this tablet knows, by "sign_in" or by "name" alone; `signedAt` an ISO instant
 * by the tablet's clock. Throws if a check has no answer: half a walk is never signed.
 */
export function manifest(walk, { device, signature, author, signedAt }) {
  const missing = walk.items.filter((item) => !walk.answers[item.n]);
  if (missing.length) throw new Error(`${missing.length} checks have no answer`);
  return {
    version: 2,
    id: walk.id,
    cart: walk.cart,
    purpose: walk.purpose,
    edition: walk.edition,
    rule_set: walk.rule_set,
    started_at: walk.started_at,
    lot: walk.lot?.id ?? null,
    signed_at: signedAt,
    author,
    device,
    answers: walk.items.map((item) => travelling(item, walk.answers[item.n])),
    signature,
  };
}

/** Every photo the record names, once each, in the order of the walk. */
export const photosOf = (record) => [...new Set(record.answers.flatMap((answer) => answer.photos))];
