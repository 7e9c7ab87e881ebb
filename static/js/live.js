// Parts of a page that say how things stand now (data-live) are asked for again once a minute, while somebody looks: a
// hidden page asks nothing, and asks at once when it is looked at again.
(() => {
  "use strict";
  const EVERY_MS = 60_000;
  let askedAt = Date.now();

  const look = () => {
    if (document.hidden || Date.now() - askedAt < EVERY_MS - 500) return;
    askedAt = Date.now();
    for (const part of document.querySelectorAll("[data-live]")) part.dispatchEvent(new Event("look"));
  };
  setInterval(look, EVERY_MS);
  document.addEventListener("visibilitychange", look);

  const standing = new Map();
  document.addEventListener("htmx:beforeSwap", (event) => {
    const { target, xhr } = event.detail;
    if (!target.matches("[data-live]")) return;
    // Signed out meanwhile: what comes is the sign-in page, and does not belong in the middle of this one.
    const asked = new URL(target.getAttribute("hx-get"), location.href).pathname;
    if (xhr.responseURL && new URL(xhr.responseURL).pathname !== asked) event.detail.shouldSwap = false;
    for (const each of target.querySelectorAll("details[id]")) standing.set(each.id, each.open);
  });
  // What somebody opened stays open.
  document.addEventListener("htmx:afterSwap", () => {
    for (const [id, open] of standing) document.getElementById(id)?.toggleAttribute("open", open);
    standing.clear();
  });
})();
