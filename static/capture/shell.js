// The set of files this page is made of: kept by a worker for where there is no signal, and changed for a newer one
// only when nothing is half done.

const WORKER = "/check/worker.js";

/**
 * Has the worker keep this page's files. `ready(takeOver)` is called when a newer set is waiting; takeOver() loads the
 * page again with it. Resolves with whether the page opens without a signal from now on.
 */
export async function keepShell(ready) {
  if (!("serviceWorker" in navigator)) return false;
  const { serviceWorker } = navigator;
  // None with no signal, or in a browser that keeps nothing: the page works on as long as it is open.
  const registration = await serviceWorker
    .register(WORKER, { scope: "/check/", updateViaCache: "none" })
    .catch(() => undefined);
  if (!registration) return Boolean(serviceWorker.controller);
  const waiting = () => {
    if (!registration.waiting || !serviceWorker.controller) return;
    ready(() => {
      serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
      registration.waiting?.postMessage("take over");
    });
  };
  const watch = (worker) => worker?.addEventListener("statechange", waiting);
  watch(registration.installing);
  registration.addEventListener("updatefound", () => watch(registration.installing));
  waiting();
  return Boolean(registration.active) || new Promise((done) => {
    registration.installing?.addEventListener("statechange", (event) => {
      if (event.target.state === "activated") done(true);
      if (event.target.state === "redundant") done(false);
    });
  });
}

/** Asks the browser not to clear the store away when the tablet runs short; it may say no. */
export async function askToKeep() {
  try {
    return (await navigator.storage.persisted()) || (await navigator.storage.persist());
  } catch {
    return false;
  }
}
