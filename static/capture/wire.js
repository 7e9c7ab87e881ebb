// The calls to the yard. JSON in, JSON out: a page of HTML, a redirect or silence is a failure with a reason, so
// that nothing but the yard's own word is ever taken for a receipt.

import { sha256 } from "./manifest.js";
import { here, hire, whoAsks } from "./principal.js";
import { say } from "./say.js";
import { DISK_FAULTS } from "./store.js";

const JSON_KIND = /^application\/(problem\+)?json\b/;
const PATIENCE_MS = 30_000;
const PHOTO_PATIENCE_MS = 120_000;
const HELLO_PATIENCE_MS = 15_000;
const ASK_PATIENCE_MS = 6_000;
const TURN_PATIENCE_MS = 3_000;
const PLAIN = { "Content-Type": "application/json" };
const PART_BYTES = 256 * 1024;
// Sixteen megabytes in parts, and as many again for parts that had to go twice.
const MOST_PARTS = 128;
const DIFFERS = "photo-hash-differs";

/**
 * Why a call did not succeed. `kind`: "no_network" | "slow" | "signed_out" | "not_allowed" | "busy" | "not_json" |
 * "refused" | "photos_missing". A refusal is final until somebody changes something; the others may pass.
 */
export class WireFailure extends Error {
  constructor(kind, { status = 0, detail = "", missing = [] } = {}) {
    super(detail || kind);
    Object.assign(this, { kind, status, detail, missing });
  }
}

function failureOf(status, body) {
  const detail = body.detail ?? body.title ?? "";
  if (status === 409 && Array.isArray(body.photos_missing)) {
    return new WireFailure("photos_missing", { status, detail, missing: body.photos_missing });
  }
  // Another part is wanted than the one that came: where to go on is no failure to be told of.
  if (status === 409 && Number.isInteger(body.offset)) {
    return Object.assign(new WireFailure("busy", { status, detail }), { offset: body.offset });
  }
  // What arrived was not what was sent: it goes again.
  if (body.code === DIFFERS) return Object.assign(new WireFailure("busy", { status, detail }), { code: body.code });
  if (status === 401) return new WireFailure("signed_out", { status, detail });
  if (status === 403) return new WireFailure("not_allowed", { status, detail });
  if (status >= 500 || status === 408 || status === 429) return new WireFailure("busy", { status, detail });
  return new WireFailure("refused", { status, detail });
}

async function call(url, { headers, ...options }, patience) {
  let response;
  let body;
  try {
    const signal = AbortSignal.timeout(patience);
    const fixed = { credentials: "same-origin", cache: "no-store", redirect: "manual", signal };
    response = await fetch(url, { ...options, ...fixed, headers: { ...headers, ...whoAsks } });
    if (response.type === "opaqueredirect") throw new WireFailure("signed_out");
    if (!JSON_KIND.test(response.headers.get("Content-Type") ?? "")) {
      throw new WireFailure(response.status >= 500 ? "busy" : "not_json", { status: response.status });
    }
    body = await response.json();
  } catch (error) {
    if (error instanceof WireFailure) throw error;
    if (error instanceof SyntaxError) throw new WireFailure("not_json", { status: response.status });
    throw new WireFailure(error.name === "TimeoutError" ? "slow" : "no_network");
  }
  if (!response.ok) throw failureOf(response.status, body);
  return body;
}

/**
 * One call after another's end, where it matters: a change of hands waits for the calls under way, and later ones wait
 * for it, else the yard would meet one person's call under the next one's sign-in, or under none.
 */
function createTurns() {
  const underWay = new Set();
  let change = null;
  const during = (work) => {
    const going = work().finally(() => underWay.delete(going));
    underWay.add(going);
    return going;
  };
  return {
    async among(work) {
      while (change) await change;
      return during(work);
    },
    async alone(work) {
      const patience = new Promise((resolve) => setTimeout(resolve, TURN_PATIENCE_MS));
      const turn = Promise.race([Promise.allSettled([...underWay]), patience]).then(work);
      const over = () => (change = null);
      change = turn.then(over, over);
      return turn;
    },
  };
}

/** The yard's end of the wire. One token is held for all calls; a fresh one is fetched once when it is turned down. */
export function createWire() {
  const turns = createTurns();
  let token = "";
  const get = (url, patience = PATIENCE_MS) =>
    turns.among(() => call(url, { headers: { Accept: "application/json" } }, patience));

  /** Whether the yard is there, who is signed in, and its time. */
  async function hello() {
    const body = await get("/sync/hello", HELLO_PATIENCE_MS);
    if (body.version !== 1 || typeof body.csrf !== "string" || Number.isNaN(Date.parse(body.server_time))) {
      throw new WireFailure("not_json");
    }
    token = body.csrf;
    return body;
  }

  async function reference() {
    const body = await get("/sync/reference");
    if (body.version !== 1) throw new WireFailure("refused", { detail: "This page is too old. Load it again." });
    token = body.csrf;
    return body;
  }

  const deliver = (method, url, headers, body, patience) =>
    call(url, { method, body, headers: { ...headers, "X-CSRFToken": token } }, patience);

  async function send(...what) {
    const attempt = () => turns.among(() => deliver(...what));
    try {
      return await attempt();
    } catch (error) {
      if (error.status !== 403) throw error;
      // Signing in again changes the token; the record must not be lost to that.
      await hello();
      return attempt();
    }
  }

  /** Whether this tablet may change over, and a token, also where nobody is signed in. A person waits for this. */
  async function askChangeOver() {
    const body = await get("/sync/change-over", ASK_PATIENCE_MS);
    if (typeof body.csrf !== "string") throw new WireFailure("not_json");
    token = body.csrf;
  }

  /**
   * Sends one picture's bytes under their own hash, in parts, from where the last try broke off. `isNew`: nothing of it
   * was ever sent, so the yard is not asked; should it have some all the same, it says so to the first part.
   */
  async function photo(hash, { bytes, type }, { isNew = false } = {}) {
    const url = `/sync/photo/${hash}`;
    const at = isNew ? { offset: 0 } : await get(url);
    let { offset } = at;
    if (at.complete) return at;
    for (let tries = 0; tries < MOST_PARTS; tries += 1) {
      const part = bytes.slice(offset, offset + PART_BYTES);
      const place = { "Upload-Offset": String(offset), "Upload-Length": String(bytes.byteLength) };
      try {
        const answer = await send("PUT", url, { "Content-Type": type, ...place }, part, PHOTO_PATIENCE_MS);
        if (answer.sha256) return answer;
        offset = answer.offset;
      } catch (error) {
        if (error.code === DIFFERS && (await sha256(bytes)) !== hash) {
          throw new WireFailure("refused", { detail: "A photo was damaged here after it was taken." });
        }
        if (error.offset === undefined) throw error;
        offset = error.offset;
      }
      if (!(offset >= 0 && offset < bytes.byteLength)) offset = 0;
    }
    throw new WireFailure("busy");
  }

  return {
    hello,
    reference,
    photo,
    /** Sends the signed record's exact text. */
    walkRound: (id, text) => send("PUT", `/sync/walk-round/${id}`, PLAIN, text, PATIENCE_MS),
    /** Sends the exact text of a signed test of heads. */
    headsTest: (id, text) => send("PUT", `/sync/heads-test/${id}`, PLAIN, text, PATIENCE_MS),
    askChangeOver,
    /** Hands the tablet over by PIN. Gives {person}; what follows goes under that person's sign-in. */
    async changeOver(person, pin) {
      await askChangeOver();
      return turns.alone(async () => {
        const given = JSON.stringify({ person, pin });
        const body = await deliver("POST", "/sync/change-over", PLAIN, given, PATIENCE_MS);
        token = body.csrf;
        return body;
      });
    },
    /** Says by its author's PIN that a name is the author's own. */
    confirmName: (id, pin) =>
      send("POST", `/sync/walk-round/${id}/name`, PLAIN, JSON.stringify({ pin }), PATIENCE_MS),
    /** Which of these records the yard has, by id, with the hash of each. */
    held: (ids) => get(`/sync/held?${new URLSearchParams(ids.map((id) => ["id", id]))}`),
  };
}

const SENTENCES = {
  no_network: "No signal: the yard can’t be reached from here.",
  slow: "The signal is too weak: the yard did not answer in time.",
  signed_out: hire
    ? "The yard’s door to this hire is shut for this phone. Open the yard’s link again, or scan the plate on the " +
      say`cart; nothing on this page is lost.`
    : "You are signed out. Sign in again, then come back to this page; nothing on it is lost.",
  not_allowed: `The yard does not allow this. To have it changed, ${here.report}.`,
  busy: "The yard’s computer is having trouble. Nothing is lost: try again in a minute.",
  not_json: "Something between here and the yard answered instead of it. A network sign-in page, perhaps.",
  photos_missing: `The yard is still missing a photo that this ${here.thing} no longer has.`,
  differs: say`What the yard holds is not what this ${here.thing} sent. Before the cart moves, ${here.report}.`,
};
const NO_ROOM =
  `There is no room left on this ${here.thing} to keep it. What was kept before is safe: clear other things off it, ` +
  "then try again.";

/** What happened, in a sentence for the person holding the tablet. A refusal is told in the yard's own words. */
export function failureSentence(error) {
  if (error.kind === "refused") return error.detail || "The yard refused it without saying why.";
  if (error.kind === "not_allowed" && error.detail) return error.detail;
  if (DISK_FAULTS.includes(error.name)) return NO_ROOM;
  return SENTENCES[error.kind] ?? `This page stumbled: ${error.message}`;
}
