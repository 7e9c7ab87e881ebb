// One check at one place: what to look at above, the answers below, at both edges.

import { doNotLeave } from "../collecting.js";
import { h, mark } from "../dom.js";
import { lapFigure } from "../lap.js";
import { say } from "../say.js";
import { itemAt, passIsNew, stationsDone, stopOf, stops, withPhotos } from "../walk.js";
import { checkName } from "../words.js";
import { NO_ROOM, answering, answers, cameFrom, settling } from "./answering.js";
import { notice, walkBar } from "./bar.js";
import { knownDefect } from "./cart.js";
import { passScreen } from "./pass.js";
import { photoFirst, photoTaken } from "./picked.js";
import { TOO_MANY_PHOTOS, noCamera, photoStrip } from "./photos.js";

function strip(walk, stop, n) {
  const here = stop.items.findIndex((item) => item.n === n) + 1;
  const marks = stop.items.map((item) =>
    h("li", { class: item.n === n ? "is-here" : null }, mark(walk.answers[item.n]?.answer ?? "unanswered")),
  );
  return h("div.strip",
    h("span", `Check ${here} of ${stop.items.length} here`),
    h("ol", { "aria-hidden": "true" }, marks),
  );
}

function question(app, walk, n) {
  const { reference } = app;
  const item = itemAt(walk, n);
  const check = walk.checks[item.check];
  const stop = stopOf(walk, n);
  const station = reference.stations.find((one) => one.key === stop.station).label;
  const pass = reference.passes.find((one) => one.number === stop.pass).label;
  const cart = app.cart(walk.cart) ?? walk.face;
  const done = stationsDone(walk, stop.pass);
  const defect = (one) => knownDefect(app, cart, one, { here: true });
  const known = cart.defects.filter((defect) => defect.station === stop.station);
  return h("section.question", { "aria-labelledby": "check" },
    h("div.question-words",
      h("div.where", h("p.pass-name", pass), strip(walk, stop, n)),
      h("h1", `${station}, `, h("span.of", `${stop.number} of ${stops(walk).length}`)),
      notice(app),
      h("h2", { id: "check", tabindex: "-1", "data-focus": true }, checkName(item, check)),
      check.look_for && h("p.look-for", check.look_for),
      check.sound && h("p.sound", h("strong", "Good is: "), check.sound),
      known.length > 0 && h("ul.known-here", { "aria-label": "Already told here" }, known.map(defect)),
    ),
    lapFigure(cart.lap, { label: `You are at: ${station}`, station: stop.station, done, className: "lap-here" }),
  );
}

function stepBack(app, walk, n) {
  if (cameFrom().from) return { label: "All checks", to: { walk: walk.id, page: "review" } };
  if (n === 1) return { label: say`Cart`, to: { cart: walk.cart } };
  const click = async () => {
    await app.moveTo(walk, n - 1);
    app.go({ walk: walk.id, at: n - 1 });
  };
  return { label: "Back", click };
}

function stepOn(app, walk, n) {
  const label = walk.answers[n] ? "Next" : "Later";
  if (n === walk.items.length) return { label, to: { walk: walk.id, page: "review" } };
  const click = async () => {
    await app.moveTo(walk, n + 1);
    app.go({ walk: walk.id, at: n + 1 });
  };
  return { label, click };
}

function photoPart(app, act) {
  if (act.picked) return act.lacksPhoto() ? "" : photoTaken(app, act);
  if (!act.check.photo) return "";
  const holder = h("div.question-photos");
  const fill = () => {
    const { photos, no_camera: without } = act.pictures();
    const change = async (part) => {
      try {
        await act.keepPictures(part);
      } catch {
        act.complain(NO_ROOM);
        return;
      }
      act.complain("");
      fill();
    };
    const strip = photoStrip(app, {
      hashes: photos,
      taken: async (hashes) => {
        const more = withPhotos(act.pictures().photos, hashes);
        await change({ photos: more.photos, no_camera: false });
        if (more.left_out) act.complain(TOO_MANY_PHOTOS);
      },
      removed: (hash) => change({ photos: act.pictures().photos.filter((one) => one !== hash) }),
      trouble: act.complain,
    });
    holder.replaceChildren(strip, photos.length ? "" : noCamera(without, () => change({ no_camera: !without })));
  };
  fill();
  return holder;
}

/** The screen for check n, or first the page of its pass when that pass has not been opened yet. */
export function checkScreen(app, walk, n) {
  if (passIsNew(walk, n)) return passScreen(app, walk, n);
  const act = answering(app, walk, n);
  const panel = question(app, walk, n);
  panel.querySelector(".question-words").append(photoPart(app, act));
  const isFirst = act.picked && act.lacksPhoto();
  const bar = walkBar(app, walk, {
    back: stepBack(app, walk, n),
    list: { label: "All checks", to: { walk: walk.id, page: "review" } },
    forward: stepOn(app, walk, n),
  });
  // In the bar, where the plan of the cart does not lie over it.
  bar.append(doNotLeave(app, walk) ?? "");
  const below = isFirst ? photoFirst(app, walk, n, act) : answers(app, walk, n, act);
  return {
    title: checkName(act.item, act.check),
    className: `screen-check ${act.check.answer === "sound" || isFirst ? "" : "with-pad"}`,
    parts: [
      bar,
      panel,
      below,
    ],
    shown: settling(below),
  };
}
