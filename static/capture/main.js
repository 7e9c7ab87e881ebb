// Starts the page, and puts the screen the address names in front of the person.

import { createApp } from "./app.js";
import { createStore } from "./store.js";
import { createWire } from "./wire.js";
import { resumePoint } from "./walk.js";
import { count } from "./words.js";
import { cartsScreen, waitingScreen } from "./screens/carts.js";
import { cartScreen } from "./screens/cart.js";
import { checkScreen } from "./screens/check.js";
import { reviewScreen } from "./screens/review.js";
import { sentScreen } from "./screens/sent.js";
import { signScreen } from "./screens/sign.js";
import { whyScreen } from "./screens/why.js";
import { wrongScreen } from "./screens/wrong.js";

const BREAK_MS = 60_000;
const WALK_SCREENS = { check: checkScreen, wrong: wrongScreen, why: whyScreen, review: reviewScreen, sign: signScreen };

const page = document.getElementById("page");
const spoken = document.getElementById("spoken");
let current = { live: true };
let pressing = false;
let news = false;

// Only a screen with nothing half entered is drawn again when news comes in from outside a tap, and never between the
// press and the release of a button, which would swallow the press.
function changed() {
  news = pressing;
  if (current.live && !pressing) show({ moved: false });
}

const app = createApp({ store: createStore(), wire: createWire(), changed });
app.sign_in_url = document.body.dataset.signIn;
app.home_url = document.body.dataset.home;

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

function screenFor({ cart, walk: walkId, page: name = "check", at }) {
  if (!app.reference) return waitingScreen(app);
  if (app.parcels.has(walkId)) return sentScreen(app, app.parcels.get(walkId));
  const walk = app.walks.get(walkId);
  if (walk && WALK_SCREENS[name]) {
    const n = Math.min(Math.max(Number(at) || walk.position, 1), walk.items.length);
    return WALK_SCREENS[name](app, walk, n);
  }
  if (walkId) app.tell("That walk-round is not on this tablet.");
  if (cart && app.cart(cart)) return cartScreen(app, app.cart(cart));
  if (cart) app.tell("That cart is not on the yard’s list. Look for it below.");
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
}

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
  // Until the tablet has a store of its own, leaving the page would lose these.
  if (app.unsent().length || app.unfinished().some((walk) => Object.keys(walk.answers).length)) event.preventDefault();
});
await app.load();
show({ moved: false });
await app.fetchReference();
