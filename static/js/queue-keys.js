// The queue by keyboard: j and k or the arrows move from row to row, Enter opens, x ticks, "/" goes to the cart filter.
// A row takes real focus, so that a screen reader reads it; keys with a modifier, and keys typed into anything that takes
// them, are left alone. Links, ticks and buttons work without any of this.
(() => {
  "use strict";
  const rows = () => [...document.querySelectorAll("[data-rows] [data-row]")];
  const takesKeys = (target) =>
    target.closest?.("input:not([type='checkbox']), select, textarea, summary, [contenteditable], dialog[open]");

  const rowOf = (target) => target.closest?.("[data-row]") ?? null;

  function move(step, from) {
    const all = rows();
    if (!all.length) return;
    const at = all.indexOf(from);
    const next = at < 0 ? (step > 0 ? 0 : all.length - 1) : Math.min(Math.max(at + step, 0), all.length - 1);
    // Focused by script alone: the row is no stop of the Tab key.
    all[next].tabIndex = -1;
    all[next].focus({ preventScroll: true });
    all[next].scrollIntoView({ block: "nearest" });
  }

  const acts = {
    j: (row) => move(1, row),
    k: (row) => move(-1, row),
    ArrowDown: (row) => row && move(1, row),
    ArrowUp: (row) => row && move(-1, row),
    Enter: (row) => row?.querySelector("[data-row-link]")?.click(),
    x: (row) => row?.querySelector("input[type='checkbox']")?.click(),
    "/": () => document.getElementById("narrow_cart")?.focus(),
  };

  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    const act = Object.hasOwn(acts, event.key) ? acts[event.key] : null;
    if (!act || takesKeys(event.target)) return;
    const row = rowOf(event.target);
    // The arrows scroll and Enter follows a link, unless the row itself has the focus.
    const isNamed = event.key.length > 1;
    if (isNamed && event.target !== row) return;
    event.preventDefault();
    act(row);
  });

  document.addEventListener("DOMContentLoaded", () => {
    const help = document.querySelector("[data-row-keys]");
    if (help) help.hidden = false;
  });
})();
