// Sun or night, right hand or left: kept on this tablet. Loaded before the first paint so the page never flashes.
(() => {
  "use strict";
  const CHOICES = { look: ["sun", "night"], hand: ["right", "left"] };
  const root = document.documentElement;

  const kept = (name) => {
    try {
      return localStorage.getItem(`slake-${name}`);
    } catch {
      return null; // A tablet that keeps nothing between pages still works; it only forgets this.
    }
  };
  const keep = (name, value) => {
    try {
      localStorage.setItem(`slake-${name}`, value);
    } catch {
      // As above.
    }
  };
  const apply = (name) => {
    const [usual, other] = CHOICES[name];
    root.dataset[name] = kept(name) === other ? other : usual;
  };
  const label = (button) => {
    const name = button.dataset.switch;
    button.textContent = root.dataset[name] === CHOICES[name][0] ? button.dataset.usual : button.dataset.other;
  };

  root.classList.add("has-script");
  Object.keys(CHOICES).forEach(apply);

  document.addEventListener("DOMContentLoaded", () => {
    for (const button of document.querySelectorAll("[data-switch]")) {
      label(button);
      button.addEventListener("click", () => {
        const name = button.dataset.switch;
        const [usual, other] = CHOICES[name];
        root.dataset[name] = root.dataset[name] === usual ? other : usual;
        keep(name, root.dataset[name]);
        label(button);
        document.dispatchEvent(new CustomEvent("slake:look"));
      });
    }
  });
})();
