// Starts the page, and puts the screen the address names in front of the person.

import { createApp } from "./app.js";
import { HEADS } from "./heads.js";
import { createOutbox } from "./outbox.js";
import { hire, principal } from "./principal.js";
import { say } from "./say.js";
import { askToKeep, keepShell } from "./shell.js";
import { DISK_FAULTS, memoryStore, openStore } from "./store.js";
import { createWire, failureSentence } from "./wire.js";
import { resumePoint } from "./walk.js";
import { count, isUnnamed } from "./words.js";
import { cartsScreen, waitingScreen } from "./screens/carts.js";
import { cartScreen } from "./screens/cart.js";
import { checkScreen } from "./screens/check.js";
import { headsReviewScreen, headsScreen } from "./screens/heads.js";
import { reviewScreen } from "./screens/review.js";
import { sentScreen } from "./screens/sent.js";
import { signScreen } from "./screens/sign.js";
import { siteScreen } from "./screens/site.js";
import { confirmScreen, whoScreen } from "./screens/who.js";
import { whyScreen } from "./screens/why.js";
import { wrongScreen } from "./screens/wrong.js";

const BREAK_MS = 60_000;
const WALK_SCREENS = { check: checkScreen, wrong: wrongScreen, why: whyScreen, review: reviewScreen, sign: signScreen };
const HEADS_SCREENS = { check: headsScreen, review: headsReviewScreen, sign: signScreen };

const page = document.getElementById("page");
const spoken = document.getElementById("spoken");
const others = new BroadcastChannel(`slake-${principal}`);
let current = { live: true };
let pressing = false;
let news = false;

// Only a screen with nothing half entered is drawn again when news comes in from outside a tap, and never between the
// press and the release of a button, which would swallow the press.
function changed() {
  news = pressing;
  if (current.live && !pressing) show({ moved: false });
}

// Another page of this tablet wants the store in a newer form: this one has let go of it.
const stale = () => location.reload();

/* That there was a store is remembered apart from it: a browser whose disk is full may begin an empty one instead. */
const HAD = `slake-had-${principal}`;
let isLost = false;
function begunAnew() {
  try {
    isLost = localStorage.getItem(HAD) !== null;
  } catch {
    // Nothing is remembered, so nothing is missed.
  }
}
function remember() {
  try {
    localStorage.setItem(HAD, "yes");
  } catch {
    // The loss of it would go untold; nothing else depends on it.
  }
}

/** The page's store; where the browser keeps nothing or the disk is full, the page's memory, and the page says so. */
async function openShelf() {
  try {
    const store = await openStore(`slake-${principal}`, { stale, begunAnew });
    remember();
    return [store, true, false];
  } catch (error) {
    return [memoryStore(), false, DISK_FAULTS.includes(error.name)];
  }
}

// One page of this tablet sends at a time; a second one finds the door shut and tries later.
const lock = (work) =>
  navigator.locks
    ? navigator.locks.request(`slake-outbox-${principal}`, { ifAvailable: true }, (held) => (held ? work() : false))
    : work();

const clock = {
  now: () => Date.now(),
  after(ms, call) {
    const timer = setTimeout(call, ms);
    return () => clearTimeout(timer);
  },
};

const [store, isKept, isDiskFull] = await openShelf();
const wire = createWire();
const outbox = createOutbox({
  store,
  wire,
  clock,
  lock,
  changed(parcel) {
    if (parcel) {
      app.parcels.set(parcel.id, parcel);
      others.postMessage("wrote");
    }
    changed();
  },
  arrived: () => app.fetchReference(),
  heard: (answer) => app.who.heard(answer),
});
const app = createApp({ store, wire, outbox, changed, wrote: () => others.postMessage("wrote") });
app.is_kept = isKept;
app.disk_is_full = isDiskFull;
app.isLost = () => isLost;
app.sign_in_url = document.body.dataset.signIn;
app.home_url = document.body.dataset.home;
// On a phone's home screen the page of a hire opens as that hire.
if (hire) document.querySelector("link[rel=manifest]").href = `/check/${hire}/slake.webmanifest`;

const address = () => Object.fromEntries(new URLSearchParams(location.hash.slice(1)));

/** Goes to another screen of this page; the browser's own Back works on it too. */
app.go = (to, { replace = false } = {}) => {
  const hash = `#${new URLSearchParams(to)}`;
  if (hash === location.hash) return show();
  if (replace) history.replaceState(null, "", hash);
  else history.pushState(null, "", hash);
  return show();
};

/** Draws the screen again where it stands, with the focus on the element of that id. */
app.redraw = (focusId) => show({ moved: false, focusId });

/** Puts a sentence at the top of the next screen; it stays until the one after. */
app.tell = (sentence) => {
  app.notice = { sentence, shown: false };
  app.say(sentence);
};

/** Speaks a sentence to whoever listens instead of looking. */
app.say = (sentence) => {
  spoken.textContent = sentence;
};

function screenFor({ cart, walk: walkId, page: name = "check", at, person }) {
  if (!app.reference) return waitingScreen(app);
  const parcel = app.parcels.get(walkId);
  if (parcel) return (name === "name" && isUnnamed(parcel) ? confirmScreen : sentScreen)(app, parcel);
  if (name === "who" && app.isShared()) return whoScreen(app, app.colleague(person));
  const walk = app.walks.get(walkId);
  const screens = walk?.purpose === HEADS ? HEADS_SCREENS : WALK_SCREENS;
  if (walk && screens[name]) {
    const n = Math.min(Math.max(Number(at) || walk.position, 1), walk.items.length);
    return screens[name](app, walk, n);
  }
  if (walkId) app.tell(say`That walk-round is not kept here.`);
  if (hire) return siteScreen(app);
  if (cart && app.cart(cart)) return cartScreen(app, app.cart(cart));
  if (cart) app.tell(say`That cart is not on the yard’s list. Look for it below.`);
  return cartsScreen(app);
}

function show({ moved = true, focusId = null } = {}) {
  const held = focusId ?? document.activeElement?.id;
  if (moved && app.notice?.shown) app.notice = null;
  const screen = screenFor(address());
  current = screen;
  if (app.notice) app.notice.shown = true;
  page.className = screen.className;
  page.replaceChildren(...screen.parts.filter(Boolean));
  document.title = `${screen.title} – Slake`;
  // Without a move by the person the focus stays where it was: a photo that has gone through must not tear it away.
  const target = moved ? page.querySelector("[data-focus]") : document.getElementById(held || "page");
  if (moved) window.scrollTo(0, 0);
  target?.focus({ preventScroll: moved });
  screen.shown?.();
  // A newer set of this page's files takes over between two walk-rounds, never within one.
  if (app.takeOver && screen.className === "screen-list" && !app.unfinished().length) app.takeOver();
}

/* The yard's other pages want a signal: with none the person is told so here, and stays. */
document.addEventListener("click", async (event) => {
  const link = event.target.closest?.("a[href]");
  if (!link || link.target || link.getAttribute("href").startsWith("#") || event.defaultPrevented) return;
  // Ringing needs no data.
  if (!link.protocol.startsWith("http")) return;
  event.preventDefault();
  try {
    await wire.hello();
    location.assign(link.href);
  } catch (error) {
    app.tell(`${failureSentence(error)} That page is with the yard; this one works on.`);
    show();
  }
});

/* A break: the page was out of sight for a minute, and not because the camera was in front of it. */
let hiddenAt = null;
function visibilityChanged() {
  if (document.hidden) {
    hiddenAt = Date.now();
    return;
  }
  const away = hiddenAt === null ? 0 : Date.now() - hiddenAt;
  hiddenAt = null;
  const { walk: id, page: name = "check", at } = address();
  const walk = app.walks.get(id);
  const knocked = away > BREAK_MS && walk && name === "check" && !app.parcels.has(id) && !app.camera_open;
  app.camera_open = false;
  if (knocked) app.resume(walk, `You were away ${count(Math.round(away / 60_000), "minute")}.`, Number(at));
}

/** Takes a walk up again one check before where it stopped (the n `from`, or its position), and says so. */
app.resume = async (walk, because, from) => {
  const stopped = from || walk.position;
  const n = resumePoint(stopped);
  await app.moveTo(walk, n);
  app.tell(n < stopped ? `${because} You are one check back: look at this one again.` : because);
  app.go({ walk: walk.id, at: n });
};

window.addEventListener("pointerdown", () => {
  pressing = true;
});
for (const end of ["pointerup", "pointercancel"]) {
  window.addEventListener(end, () => {
    pressing = false;
    // The click itself comes right after this, and goes first.
    if (news) setTimeout(changed);
  });
}
window.addEventListener("popstate", () => show());
window.addEventListener("unhandledrejection", (event) => {
  const reason = event.reason?.message ?? "no reason given";
  app.tell(`This page stumbled (${reason}). What was kept is safe. Try that again.`);
  if (current.live) show({ moved: false });
});
document.addEventListener("visibilitychange", visibilityChanged);
window.addEventListener("beforeunload", (event) => {
  // Where the browser keeps nothing, leaving the page would lose these.
  if (!isKept && (app.unsent().length || app.unfinished().length)) event.preventDefault();
});

/* What another page of this tablet kept is taken up when this one stands still. */
others.addEventListener("message", async () => {
  await app.load();
  changed();
});

/* Signal, or a person, is back: what waits is sent, and the list is fetched when it is old. */
const OLD_MS = 10 * 60_000;
async function backAgain() {
  await outbox.poke();
  const { trouble, person, tablet } = outbox.state;
  const isOld = !app.fetched_at || app.trouble || Date.now() - Date.parse(app.fetched_at) > OLD_MS;
  const isOthers = person?.id !== app.reference?.person.id || Boolean(tablet) !== app.isShared();
  if (!trouble && (isOld || isOthers)) await app.fetchReference();
}
window.addEventListener("online", backAgain);
window.addEventListener("pageshow", (event) => event.persisted && backAgain());
document.addEventListener("visibilitychange", () => document.hidden || backAgain());

await app.load();
show({ moved: false });
app.shell_is_kept = false;
keepShell((takeOver) => {
  app.takeOver = takeOver;
  changed();
}).then((kept) => {
  app.shell_is_kept = kept;
  changed();
});
askToKeep();
await app.fetchReference();
await outbox.poke();
