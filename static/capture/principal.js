// On whose behalf this page works: the yard's own people, or a customer's person with one cart on hire. The address
// says which, and grants nothing by it; each has a store, a lock and a channel of its own.

import { say } from "./say.js";

const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;
const asked = new URLSearchParams(location.search).get("hire") ?? "";

/** The hire's id; "" for the yard. */
export const hire = UUID.test(asked) ? asked : "";

/** The name under which everything of it is kept here. */
export const principal = hire ? `hire-${hire}` : "yard";

/** What the page is on, and what to do when something is wrong, as they are spoken of on its screens. */
export const here = hire
  ? { thing: "phone", report: "ring the yard", home: say`The cart` }
  : { thing: "tablet", report: "tell the workshop manager", home: say`Carts today` };

/** The headers by which the yard knows whom a call is for. */
export const whoAsks = hire ? { "Slake-Hire": hire } : {};
