// The ways to enter a value without the tablet's own keyboard. A pad reports what is entered; it never starts filled.

import { button, h, mark } from "../dom.js";
import { monthNames } from "../words.js";

const MOST_DIGITS = 9;
const MOST_DECIMALS = 3;
const NUMBER = /^\d+(\.\d+)?$/;

/** Whether the text is a finished number; "6." is not. */
export const isNumber = (text) => NUMBER.test(text);

function typed(text, key) {
  if (key === "rub_out") return text.slice(0, -1);
  if (key === ".") return text.includes(".") ? text : `${text || "0"}.`;
  const [whole, decimals] = text.split(".");
  if (decimals === undefined ? whole.length >= MOST_DIGITS : decimals.length >= MOST_DECIMALS) return text;
  return text === "0" ? key : text + key;
}

const KEYS = ["1", "2", "3", "rub_out", "4", "5", "6", ".", "7", "8", "9", "0"];
const KEY_NAMES = { rub_out: "Rub out the last figure", ".": "Decimal point" };

/**
 * A number pad with its readout, which a keyboard can also type into. `title` names the value, `unit` stands beside it.
 * Gives {pad, readout, value()}; value() is the text as entered. `enter` is called on the keyboard's Enter.
 */
export function numberPad({ title, unit, start = "", enter }) {
  const input = h("input", {
    id: "value",
    class: "figure",
    type: "text",
    inputmode: "none",
    autocomplete: "off",
    "aria-label": unit ? `${title}, in ${unit}` : title,
    value: start,
    keydown: (event) => event.key === "Enter" && enter(),
  });
  const clean = () => {
    let text = "";
    for (const key of input.value.replace(",", ".").replace(/[^\d.]/g, "")) text = typed(text, key);
    if (text !== input.value) input.value = text;
  };
  input.addEventListener("input", clean);
  const press = (key) => () => {
    input.value = typed(input.value, key);
  };
  const keys = KEYS.map((key) =>
    h(
      "button",
      { type: "button", class: "key", "aria-label": KEY_NAMES[key], click: press(key) },
      key === "rub_out" ? mark("rub_out") : key,
    ),
  );
  return {
    pad: h("div", { class: "number-pad", role: "group", "aria-label": "Number pad" }, keys),
    readout: h("div", { class: "readout" }, input, unit && h("span", { class: "unit", "aria-hidden": "true" }, unit)),
    value: () => input.value,
  };
}

function pickable(name, className, options, pick) {
  const buttons = options.map(([key, label]) =>
    h("button", { type: "button", class: "key", "aria-pressed": "false", "data-key": key, click: () => pick(key) }, label),
  );
  const group = h("div", { class: className, role: "group", "aria-label": name }, buttons);
  const show = (key) => {
    for (const one of group.querySelectorAll("[data-key]")) one.setAttribute("aria-pressed", String(one.dataset.key === key));
  };
  return { group, show };
}

/**
 * A month and a year to pick, as on a tag. `year` is this year, in the middle of those first shown, none of them chosen.
 * Gives {pad, years, readout, value()}; value() is "2027-03", or "" until both are picked.
 */
export function monthPad({ title, year, yearsAtOnce, start = "" }) {
  let [chosenYear, chosenMonth] = start ? start.split("-") : [null, null];
  let first = (chosenYear ? Number(chosenYear) : year) - Math.floor(yearsAtOnce / 2);
  const readout = h("output", { class: "readout figure", "aria-label": title });
  const years = h("div", { class: "year-row", role: "group", "aria-label": "Year" });
  const options = monthNames.map((name, index) => [String(index + 1).padStart(2, "0"), name.slice(0, 3)]);
  const months = pickable("Month", "month-pad", options, (key) => {
    chosenMonth = key;
    show();
  });
  const turnYears = (by, label, shape) =>
    h("button", { type: "button", class: "key", "aria-label": label, click: () => { first += by; fillYears(); } }, mark(shape));

  function fillYears() {
    const shown = Array.from({ length: yearsAtOnce }, (_, index) => String(first + index));
    const row = pickable("Year", "", shown.map((one) => [one, one]), (key) => {
      chosenYear = key;
      show();
    });
    const held = years.contains(document.activeElement) && document.activeElement.getAttribute("aria-label");
    years.replaceChildren(
      turnYears(-yearsAtOnce, "Earlier years", "back"),
      ...row.group.children,
      turnYears(yearsAtOnce, "Later years", "on"),
    );
    if (held) years.querySelector(`[aria-label="${held}"]`)?.focus();
    show();
  }

  function show() {
    months.show(chosenMonth);
    for (const one of years.querySelectorAll("[data-key]")) {
      one.setAttribute("aria-pressed", String(one.dataset.key === chosenYear));
    }
    const month = chosenMonth ? monthNames[Number(chosenMonth) - 1] : "Month";
    readout.textContent = chosenMonth || chosenYear ? `${month} ${chosenYear ?? "and year"}` : "Month and year";
  }

  fillYears();
  return {
    pad: months.group,
    years,
    readout,
    value: () => (chosenMonth && chosenYear ? `${chosenYear}-${chosenMonth}` : ""),
  };
}
