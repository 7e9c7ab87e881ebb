// The page's own sentences in the yard's words (people/words.py): say`No cart has that number.` Only what is written in
// the code is looked through; what is put into it with ${...} is the yard's, or somebody's, and stays. The table comes
// with the page; where there is none, every sentence reads as it is written here.

const PAIRS = JSON.parse(document.body?.dataset.words ?? "{}");
const literal = (text) => text.replace(/[-\\^$*+?.()|[\]{}]/g, "\\$&").replaceAll(" ", "\\s+");
// Longest first, as the yard gives them. What stands before a word is a part of the match: an older browser cannot look
// behind.
const WORDS = Object.keys(PAIRS).length
  ? new RegExp(
      `(^|[^\\w@./#=-])(?:(an?)(\\s+))?(${Object.keys(PAIRS).map(literal).join("|")})(?![\\w@=]|[-./:]\\w)`,
      "gi",
    )
  : null;

const isVowel = (letter) => "aeiou".includes(letter.toLowerCase());
const large = (word) => word[0].toUpperCase() + word.slice(1);
const isLarge = (word) => word[0] !== word[0].toLowerCase();

function inItsCase(word, other) {
  if (word === word.toUpperCase()) return other.toUpperCase();
  const [old, fresh] = [word.split(/\s+/), other.split(" ")];
  if (old.length !== fresh.length) return isLarge(word) ? large(other) : other;
  return fresh.map((part, n) => (isLarge(old[n]) ? large(part) : part)).join(" ");
}

function article(given, word, other) {
  if (isVowel(word[0]) === isVowel(other[0])) return given;
  return isVowel(other[0]) ? `${given[0]}n` : given[0];
}

/** A text of the page's own in the yard's words. */
export const inWords = (text) =>
  WORDS
    ? text.replace(WORDS, (_, before, given, gap, word) => {
        const other = inItsCase(word, PAIRS[word.toLowerCase().split(/\s+/).join(" ")]);
        return `${before}${given ? article(given, word, other) + gap : ""}${other}`;
      })
    : text;

/** say`The cart ${number} is held.` */
export const say = (parts, ...values) =>
  parts.map((part, n) => inWords(part) + (n < values.length ? values[n] : "")).join("");
