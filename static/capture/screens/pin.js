// The pad for a PIN: digits go in, dots are shown, and nothing of it outlives the screen.

import { button, h, mark } from "../dom.js";

const LENGTH = 6;

/**
 * A PIN pad for `name`. `label` is on the button that sends the six digits to `send(pin)`; what that gives, if any, is
 * the sentence of a refusal. Gives {entry, send, keyed}: the pad, its button, and what to do with a key of a keyboard.
 */
export function pinPad({ name, label, send }) {
  let digits = "";
  let busy = false;
  const dots = h("p.pin-dots", { "aria-hidden": "true" });
  const heard = h("p.heard-only", { role: "status" });
  const told = h("p.told", { role: "alert" });

  const enter = (next) => {
    if (busy) return;
    digits = next.slice(0, LENGTH);
    dots.textContent = "●".repeat(digits.length) + "○".repeat(LENGTH - digits.length);
    heard.textContent = digits ? `${digits.length} of ${LENGTH} digits` : "";
  };
  const press = (digit) => {
    told.textContent = "";
    enter(digits + digit);
  };
  const takeBack = () => enter(digits.slice(0, -1));
  const go = async () => {
    if (busy) return;
    if (digits.length < LENGTH) {
      told.textContent = `A PIN is six digits. ${digits.length ? `${digits.length} are in.` : "Enter yours."}`;
      return;
    }
    const pin = digits;
    enter("");
    busy = true;
    told.textContent = "Asking the yard.";
    const refusal = await send(pin).finally(() => {
      busy = false;
    });
    told.textContent = refusal ?? "";
  };

  const key = (digit) => h("button", { type: "button", class: "key", click: () => press(digit) }, digit);
  const pad = h("div.pin-pad", { role: "group", "aria-label": `PIN of ${name}` },
    [..."123456789"].map(key),
    button("Take back", { class: "pin-back", click: takeBack }, mark("rub_out")),
    key("0"),
  );
  enter("");
  const entry = h("div.pin-entry", dots, heard, pad, told);
  const keyed = (event) => {
    if (/^[0-9]$/.test(event.key)) press(event.key);
    else if (event.key === "Backspace") takeBack();
    else if (event.key === "Enter" && event.target.tagName !== "BUTTON") go();
  };
  return { entry, keyed, send: button(label, { id: "give-pin", class: "main-choice", click: go }) };
}
