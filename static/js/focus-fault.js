// A page or fragment that comes back with faults puts the person at the list of them; a link in it goes to its field.
(() => {
  "use strict";
  const arrive = (root) => root.querySelector("[data-focus-fault]")?.focus();

  document.addEventListener("DOMContentLoaded", () => arrive(document));
  document.addEventListener("htmx:afterSettle", (event) => arrive(event.detail.elt));

  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-focus-fault] a[href^='#']");
    const field = link && document.getElementById(link.hash.slice(1));
    if (!field) return;
    event.preventDefault();
    const control = field.matches("input, select, textarea") ? field : field.querySelector("input, select, textarea");
    (field.closest(".field") ?? field).scrollIntoView({ block: "center" });
    (control ?? field).focus({ preventScroll: true });
  });
})();
