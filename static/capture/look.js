// Sun or night, right hand or left: the two choices js/look.js puts on the page before it is first seen.

const CHOICES = { look: ["sun", "night"], hand: ["right", "left"] };

/** Which of the two is in force: chosen("look") is "sun" or "night", chosen("hand") "right" or "left". */
export const chosen = (name) => document.documentElement.dataset[name];

/** Changes over to the other of the two, for this tablet. */
export function turn(name) {
  const [usual, other] = CHOICES[name];
  const next = chosen(name) === usual ? other : usual;
  document.documentElement.dataset[name] = next;
  try {
    localStorage.setItem(`slake-${name}`, next);
  } catch {
    // A tablet that keeps nothing between pages still works; it only forgets this.
  }
}
