// The three calls to the yard. JSON in, JSON out: a page of HTML, a redirect or silence is a failure with a reason, so
// that nothing but the yard's own word is ever taken for a receipt.

const JSON_KIND = /^application\/(problem\+)?json\b/;
const PATIENCE_MS = 30_000;
const PHOTO_PATIENCE_MS = 120_000;

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
  if (status === 401) return new WireFailure("signed_out", { status, detail });
  if (status === 403) return new WireFailure("not_allowed", { status, detail });
  if (status >= 500 || status === 408 || status === 429) return new WireFailure("busy", { status, detail });
  return new WireFailure("refused", { status, detail });
}

async function call(url, options, patience) {
  let response;
  let body;
  try {
    const signal = AbortSignal.timeout(patience);
    const fixed = { credentials: "same-origin", cache: "no-store", redirect: "manual", signal };
    response = await fetch(url, { ...options, ...fixed });
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

/** The yard's end of the wire. One token is held for all calls; a fresh one is fetched once when it is turned down. */
export function createWire() {
  let token = "";

  async function reference() {
    const body = await call("/sync/reference", { headers: { Accept: "application/json" } }, PATIENCE_MS);
    if (body.version !== 1) throw new WireFailure("refused", { detail: "This page is too old. Load it again." });
    token = body.csrf;
    return body;
  }

  async function put(url, type, body, patience) {
    const attempt = () =>
      call(url, { method: "PUT", body, headers: { "Content-Type": type, "X-CSRFToken": token } }, patience);
    try {
      return await attempt();
    } catch (error) {
      if (error.status !== 403) throw error;
      // Signing in again changes the token; the record must not be lost to that.
      await reference();
      return attempt();
    }
  }

  return {
    reference,
    /** Sends one picture's bytes under their own hash. */
    photo: (hash, blob) => put(`/sync/photo/${hash}`, blob.type, blob, PHOTO_PATIENCE_MS),
    /** Sends the signed record's exact text. */
    walkRound: (id, text) => put(`/sync/walk-round/${id}`, "application/json", text, PATIENCE_MS),
  };
}

const SENTENCES = {
  no_network: "No signal: the yard can’t be reached from here.",
  slow: "The signal is too weak: the yard did not answer in time.",
  signed_out: "You are signed out. Sign in again, then come back to this page; nothing on it is lost.",
  not_allowed: "Your sign-in does not allow this. Ask the workshop manager.",
  busy: "The yard’s computer is having trouble. Nothing is lost: try again in a minute.",
  not_json: "Something between here and the yard answered instead of it. A network sign-in page, perhaps.",
  photos_missing: "The yard is still missing a photo that this tablet no longer has.",
};

/** What happened, in a sentence for the person holding the tablet. A refusal is told in the yard's own words. */
export function failureSentence(error) {
  if (error.kind === "refused") return error.detail || "The yard refused it without saying why.";
  if (error.kind === "not_allowed" && error.detail) return error.detail;
  return SENTENCES[error.kind] ?? `This page stumbled: ${error.message}`;
}
