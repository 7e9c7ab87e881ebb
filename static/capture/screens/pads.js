// The ways to enter a value without the tablet's own keyboard. A pad reports what is entered; it never starts filled.

import { button, h, mark } from "../dom.js";
import { monthNames } from "../words.js";

const MOST = { whole: 9, decimals: 3 };
const NUMBER = /^\d+(\.\d+)?$/;

/** Whether the text is a finished number; "6." is not. */
export const isNumber = (text) => NUMBER.test(text);

function typed(text, key, most) {
  if (key === "rub_out") return text.slice(0, -1);
  if (key === ".") return text.includes(".") ? text : `${text || "0"}.`;
  const [whole, decimals] = text.split(".");
  if (decimals === undefined ? whole.length >= most.whole : decimals.length >= most.decimals) return text;
  return text === "0" ? key : text + key;
}

const KEYS = ["1", "2", "3", "rub_out", "4", "5", "6", ".", "7", "8", "9", "0"];
const KEY_NAMES = { rub_out: "Rub out the last figure", ".": "Decimal point" };

/**
 * A number pad with its readout, which a keyboard can also type into. `title` names the value, `unit` stands beside it.
 * Gives {pad, readout, value()}; value() is the text as entered. `told` is called with it on every change, `enter` on
 * the keyboard's Enter. `most`: how many figures it takes before the point and after it.
 */
export function numberPad({ title, unit, start = "", most = MOST, enter, told }) {
  const input = h("input", {
    id: "value",
    class: "entered",
    type: "text",
    inputmode: "none",
    autocomplete: "off",
    "aria-label": unit ? `${title}, in ${unit}` : title,
    value: start,
    keydown: (event) => event.key === "Enter" && enter(),
  });
  const clean = () => {
    let text = "";
    for (const key of input.value.replace(",", ".").replace(/[^\d.]/g, "")) text = typed(text, key, most);
    if (text !== input.value) input.value = text;
    told(text);
  };
  input.addEventListener("input", clean);
  const press = (key) => () => {
    input.value = typed(input.value, key, most);
    told(input.value);
  };
  const keys = KEYS.map((key) =>
    h(
      "button",
      { type: "button", class: "key", "aria-label": KEY_NAMES[key], click: press(key) },
      key === "rub_out" ? mark("rub_out") : key,
    ),
  );
  told(start);
  return {
    pad: h("div.number-pad", { role: "group", "aria-label": "Number pad" }, keys),
    readout: h("div.readout", input, unit && h("span.unit", { "aria-hidden": "true" }, unit)),
    value: () => input.value,
  };
}

function pickable(name, className, options, pick, kind = "key") {
  const buttons = options.map(([key, label]) =>
    h("button", { type: "button", class: kind, "aria-pressed": "false", "data-key": key, click: pick(key) }, label),
  );
  return h("div", { class: className, role: "group", "aria-label": name }, buttons);
}

function showPicked(group, key) {
  for (const one of group.querySelectorAll("[data-key]")) {
    one.setAttribute("aria-pressed", String(one.dataset.key === key));
  }
}

const YEARS_AT_ONCE = 3;

/**
 * A month and a year to pick, as on a tag. `year` is this year, in the middle of those first shown, none chosen.
 * `told` is called with "2027-03", or "" until both are picked. Gives {pad, years, value()}.
 */
export function monthPad({ year, start = "", told }) {
  let [chosenYear, chosenMonth] = start ? start.split("-") : [null, null];
  let first = (chosenYear ? Number(chosenYear) : year) - 1;
  const value = () => (chosenMonth && chosenYear ? `${chosenYear}-${chosenMonth}` : "");
  const options = monthNames.map((name, index) => [String(index + 1).padStart(2, "0"), name.slice(0, 3)]);
  const months = pickable("Month", "month-pad", options, (key) => () => {
    chosenMonth = key;
    show();
  });
  const years = h("div.year-row", { role: "group", "aria-label": "Year" });

  const turn = (by, label, shape) => {
    const click = () => {
      first += by;
      fillYears();
      years.querySelector(`[aria-label="${label}"]`).focus();
    };
    return h("button", { type: "button", class: "year", "aria-label": label, click }, mark(shape));
  };

  function fillYears() {
    const shown = Array.from({ length: YEARS_AT_ONCE }, (_, index) => String(first + index));
    const pick = (key) => () => {
      chosenYear = key;
      show();
    };
    const row = pickable("Year", "", shown.map((one) => [one, one]), pick, "year");
    years.replaceChildren(
      turn(-YEARS_AT_ONCE, "Earlier years", "back"),
      ...row.children,
      turn(YEARS_AT_ONCE, "Later years", "on"),
    );
    show();
  }

  function show() {
    showPicked(months, chosenMonth);
    showPicked(years, chosenYear);
    told(value());
  }

  fillYears();
  return { pad: months, years, value };
}
