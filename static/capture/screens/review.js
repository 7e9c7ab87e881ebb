// Check your answers: what has no answer first, then what is wrong, then everything by place.

import { doNotLeave } from "../collecting.js";
import { button, h, mark } from "../dom.js";
import { say } from "../say.js";
import { itemAt, stops, tally, unanswered } from "../walk.js";
import { answerWords, checkName, count } from "../words.js";
import { bar, heading, notice, whereItIs } from "./bar.js";

const at = (walk, n, more) => `#${new URLSearchParams({ walk: walk.id, at: n, ...more })}`;

function said(answer, check, reference) {
  if (!answer) return "No answer yet";
  const photos = answer.photos.length && `${count(answer.photos.length, "photo")}.`;
  return [`${answerWords(answer, check, reference)}.`, answer.words, photos].filter(Boolean).join(" ");
}

function line(app, walk, item, { place = false } = {}) {
  const check = walk.checks[item.check];
  const answer = walk.answers[item.n];
  const station = app.reference.stations.find((one) => one.key === item.station).label;
  const name = place ? `${station}: ${checkName(item, check)}` : checkName(item, check);
  return h("li",
    h("a.answer-row", { href: at(walk, item.n, answer && { from: "review" }) },
      mark(answer?.answer ?? "unanswered"),
      h("span", h("strong", name), h("span", said(answer, check, app.reference))),
    ),
  );
}

function part(app, walk, title, items, options) {
  if (!items.length) return null;
  return h("section.review-part", h("h2", title), h("ul", items.map((item) => line(app, walk, item, options))));
}

function byPlace(app, walk) {
  const passes = app.reference.passes;
  return stops(walk).map((stop) => {
    const station = app.reference.stations.find((one) => one.key === stop.station).label;
    const pass = passes.find((one) => one.number === stop.pass).label;
    return h("section.review-part",
      h("h3", `${stop.number}. ${station} `, h("span.aside", pass)),
      h("ul", stop.items.map((item) => line(app, walk, item))),
    );
  });
}

function summary(counts) {
  const words = [
    counts.unanswered && `${count(counts.unanswered, "check")} without an answer`,
    counts.wrong && `${counts.wrong} wrong`,
    counts.could_not_check && `${counts.could_not_check} couldn’t check`,
    counts.not_on_cart && say`${counts.not_on_cart} not on this cart`,
    `${counts.good} good`,
  ];
  return `${words.filter(Boolean).join(", ")}.`;
}

/** The screen before signing. Signing is refused in words while a check has no answer. */
export function reviewScreen(app, walk) {
  const open = unanswered(walk);
  const of = (kind) => walk.items.filter((item) => walk.answers[item.n]?.answer === kind);
  const told = h("div.told");
  const sign = () => {
    if (!open.length) return app.go({ walk: walk.id, page: "sign" });
    const words = `${count(open.length, "check has", "checks have")} no answer yet. Answer, or say why you couldn’t.`;
    const link = h("a", { href: at(walk, open[0].n) }, checkName(open[0], walk.checks[open[0].check]));
    told.replaceChildren(h("div.gaps", { id: "gaps", role: "alert", tabindex: "-1" }, h("p", words), link));
    document.getElementById("gaps").focus();
  };
  const last = itemAt(walk);
  return {
    title: "Check your answers",
    className: "screen-review",
    parts: [
      bar(app, {
        back: { label: "Back", to: { walk: walk.id, at: last.n } },
        title: `${walk.face.fleet_number} · ${app.reference.purposes[walk.purpose].label}`,
        note: whereItIs(app, walk),
      }),
      h("div.review-head",
        heading("Check your answers"),
        h("p.large", summary(tally(walk))),
        notice(app),
        doNotLeave(app, walk),
        told,
      ),
      part(app, walk, "No answer yet", open, { place: true }),
      part(app, walk, "Something’s wrong", of("wrong"), { place: true }),
      part(app, walk, "Couldn’t check", of("could_not_check"), { place: true }),
      h("section.review-all", h("h2", "Everything, place by place"), byPlace(app, walk)),
      h("div.foot", button("These are right: go and sign", { class: "main-choice", click: sign })),
    ],
  };
}
