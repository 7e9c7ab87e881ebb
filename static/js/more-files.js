// A field for several files, where a camera gives one at a time: once one is chosen, an empty field stands under it for the next.
(() => {
  "use strict";
  document.addEventListener("change", (event) => {
    const input = event.target;
    if (!input.matches("input[type='file'][data-more-files]") || !input.files.length) return;
    const all = [...input.form.querySelectorAll(`input[type='file'][name='${input.name}']`)];
    if (all.some((one) => !one.files.length)) return;
    const next = input.cloneNode();
    next.value = "";
    next.id = `${all[0].id}_${all.length + 1}`;
    next.setAttribute("aria-label", "More photos");
    all.at(-1).after(next);
  });
})();
