// A walk-round as plain data, and every rule of moving through it. No page, no clock, no store in here.
//
// A walk is {id, cart, purpose, edition, rule_set, started_at, begun_by, lot, items, checks, face, answers, position,
// passes_seen}: `items` is the sheet in walking order, each {n, check, place, place_label, limit, station, pass};
// `checks` the wording of those checks, `face` the cart as it was when the walk began and `lot` what the yard drew for
// it ({id, picks} or null), so that a newer list from the yard never changes a walk under way; `answers` is keyed by n
// and holds only what the store has confirmed; `position` is the n in front.

/** A new walk over one sheet of the reference. `at` is an ISO instant, `id` a uuid. */
export function openWalk({ id, cart, purpose, reference, at }) {
  const { sheets, ...face } = reference.carts.find((one) => one.id === cart);
  const checks = {};
  const items = sheets[purpose].items.map((item, index) => {
    checks[item.check] = reference.checks[item.check];
    const { station, pass } = checks[item.check];
    return { n: index + 1, ...item, station, pass };
  });
  return {
    id,
    cart,
    purpose,
    edition: { number: reference.edition.number, sha256: reference.edition.sha256 },
    rule_set: reference.rule_set,
    started_at: at,
    lot: sheets[purpose].lot ?? null,
    items,
    checks,
    face,
    answers: {},
    position: 1,
    passes_seen: [],
  };
}

/** The item in front, or that of another n. */
export const itemAt = (walk, n = walk.position) => walk.items[n - 1];

/** The same walk with one more answer, or with an answer changed. */
export const withAnswer = (walk, n, answer) => ({ ...walk, answers: { ...walk.answers, [n]: answer } });

/**
 * The places to stop, in walking order: [{number, station, pass, items}]. The sheet's order is kept: a place that
 * comes twice in one pass (an emergency stop tried last of all) is two stops.
 */
export function stops(walk) {
  const found = [];
  for (const item of walk.items) {
    const last = found[found.length - 1];
    if (last && last.station === item.station && last.pass === item.pass) last.items.push(item);
    else found.push({ number: found.length + 1, station: item.station, pass: item.pass, items: [item] });
  }
  return found;
}

/** The stations of one pass at which every check has its answer. */
export function stationsDone(walk, pass) {
  const asked = walk.items.filter((item) => item.pass === pass);
  const open = new Set(asked.filter((item) => !walk.answers[item.n]).map((item) => item.station));
  return [...new Set(asked.map((item) => item.station))].filter((station) => !open.has(station));
}

/** The stop at which check n is looked at. */
export const stopOf = (walk, n) => stops(walk).find((stop) => stop.items.some((item) => item.n === n));

/** The items without an answer, in walking order. */
export const unanswered = (walk) => walk.items.filter((item) => !walk.answers[item.n]);

/** {answered, total} */
export const progress = (walk) => ({ answered: walk.items.length - unanswered(walk).length, total: walk.items.length });

/**
 * Where an answer to check n leads: the next check without an answer after it, or null when none is left ahead. What
 * was skipped is not jumped back to: it is listed before signing.
 */
export function onward(walk, n) {
  const next = walk.items.find((item) => item.n > n && !walk.answers[item.n]);
  return next ? next.n : null;
}

/** Where a person lands after a break at check n: one check before, never before the first. */
export const resumePoint = (n) => Math.max(1, n - 1);

/** Whether a page for the pass of check n, with what to mind in it, is still to be shown. */
export const passIsNew = (walk, n) => !walk.passes_seen.includes(itemAt(walk, n).pass);

const SEVERITY = ["watch", "by_date", "do_not_use"];

/** The graver of two grades; null counts as none. */
export const graver = (one, other) => (SEVERITY.indexOf(one) >= SEVERITY.indexOf(other) ? one : other);

/** The grades a person may still choose where a limit has already set one: that one and any graver. */
export const gradesFrom = (grades, least) =>
  grades.filter((grade) => SEVERITY.indexOf(grade.key) >= SEVERITY.indexOf(least));

/** Whether a photo must go with this grade. A thing only watched may be told in words. */
export const needsPhoto = (grade) => grade === "do_not_use" || grade === "by_date";

/** Whether the yard's lot fell on this item: it wants a photo of its own. A walk of an older page has no lot. */
export const isPicked = (walk, item) =>
  Boolean(walk.lot?.picks.some(([check, place]) => check === item.check && place === item.place));

// As many as the yard takes with one answer.
const MOST_PHOTOS = 12;

/** {photos, left_out}: the hashes with more added, each once, and how many there was no place for. */
export function withPhotos(photos, more) {
  const all = [...new Set([...photos, ...more])];
  return { photos: all.slice(0, MOST_PHOTOS), left_out: Math.max(0, all.length - MOST_PHOTOS) };
}

/**
 * What is still missing from a fault before it can be kept, as {field, sentence} in the order of the page; empty when
 * it is whole. `fault` is {grade, photos, no_camera, words, told, picked}: `told` when an entry already says what is
 * wrong, `picked` when the yard's lot fell on it.
 */
export function faultGaps(fault) {
  const gaps = [];
  if (!fault.grade) gaps.push({ field: "grade", sentence: "Say how bad it is." });
  if ((fault.picked || needsPhoto(fault.grade)) && !fault.photos.length && !fault.no_camera) {
    gaps.push({ field: "photo", sentence: "Take a photo, or say there is no camera." });
  }
  if (!fault.told && !fault.words.trim()) gaps.push({ field: "words", sentence: "Say in a few words what is wrong." });
  return gaps;
}

/**
 * What the answers alone come to, before the yard has judged them: "held" | "conditions" | "ready". Advice for a
 * person with no signal, never the verdict: the yard also knows the cart's other defects, dates and holds. A check
 * that is required and was not done counts against the cart.
 */
export function ownOutcome(walk) {
  let outcome = "ready";
  for (const item of walk.items) {
    const answer = walk.answers[item.n];
    const undone = !answer || answer.answer === "could_not_check";
    if (undone && walk.checks[item.check].required) return "held";
    if (answer?.answer !== "wrong") continue;
    if (answer.grade === "do_not_use") return "held";
    if (answer.grade === "by_date") outcome = "conditions";
  }
  return outcome;
}

/** How many of each kind of answer: {good, wrong, not_on_cart, could_not_check, unanswered}. */
export function tally(walk) {
  const counts = { good: 0, wrong: 0, not_on_cart: 0, could_not_check: 0, unanswered: 0 };
  for (const item of walk.items) counts[walk.answers[item.n]?.answer ?? "unanswered"] += 1;
  return counts;
}

/** Carts in the order they leave; those that do not leave after them, by fleet number as a person counts. */
export function leavingFirst(carts) {
  const byNumber = new Intl.Collator("en", { numeric: true });
  const when = (cart) => (cart.leaves_at ? Date.parse(cart.leaves_at) : Infinity);
  return [...carts].sort((a, b) => {
    const [first, second] = [when(a), when(b)];
    return first === second ? byNumber.compare(a.fleet_number, b.fleet_number) : first - second;
  });
}
