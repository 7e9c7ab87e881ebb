// Sun or night, right hand or left: two choices of the person holding the tablet, kept on this tablet.

const CHOICES = { look: ["sun", "night"], hand: ["right", "left"] };

const read = (name) => {
  try {
    return localStorage.getItem(`slake-${name}`);
  } catch {
    return null; // A tablet that keeps nothing between pages still works; it only forgets this.
  }
};

/** Puts the kept choices on the page. */
export function applyLook() {
  for (const [name, [usual, other]] of Object.entries(CHOICES)) {
    document.documentElement.dataset[name] = read(name) === other ? other : usual;
  }
}

/** Which of the two is in force: chosen("look") is "sun" or "night", chosen("hand") "right" or "left". */
export const chosen = (name) => document.documentElement.dataset[name];

/** Changes over to the other of the two. */
export function turn(name) {
  const [usual, other] = CHOICES[name];
  const next = chosen(name) === usual ? other : usual;
  document.documentElement.dataset[name] = next;
  try {
    localStorage.setItem(`slake-${name}`, next);
  } catch {
    // As above.
  }
}
