// What the page knows and every change it can make. A change is in the store before it is in the page: a screen that
// shows an answer as chosen shows a receipt.

import { forgetDrawings } from "./lap.js";
import { manifest, canonical, photosOf, sha256 } from "./manifest.js";
import { send } from "./sending.js";
import { failureSentence } from "./wire.js";
import { openWalk, withAnswer } from "./walk.js";

const isoNow = () => new Date().toISOString();

function tabletId() {
  try {
    const kept = localStorage.getItem("slake-tablet") ?? crypto.randomUUID();
    localStorage.setItem("slake-tablet", kept);
    return kept;
  } catch {
    return crypto.randomUUID();
  }
}

/** The state of the page over a store and a wire. `changed()` is called when something changed outside a tap. */
export function createApp({ store, wire, changed }) {
  const app = {
    store,
    reference: null,
    fetched_at: null,
    offset_ms: 0,
    trouble: null,
    walks: new Map(),
    drafts: new Map(),
    parcels: new Map(),
    sending: new Map(),
    find: "",
    last_kept: "",
    notice: null,
    now: isoNow,
  };

  app.cart = (id) => app.reference.carts.find((cart) => cart.id === id);
  app.openWalkOf = (cart, purpose) =>
    [...app.walks.values()].find(
      (walk) => walk.cart === cart && (!purpose || walk.purpose === purpose) && !app.parcels.has(walk.id),
    );
  app.unsent = () => [...app.parcels.values()].filter((parcel) => !parcel.receipt);
  app.unfinished = () => [...app.walks.values()].filter((walk) => !app.parcels.has(walk.id));

  /** Fetches carts, checks and words afresh. A failure is kept as a sentence; what was fetched before stays. */
  app.fetchReference = async () => {
    try {
      app.reference = await wire.reference();
      app.fetched_at = isoNow();
      app.offset_ms = Math.round(Date.parse(app.reference.server_time) - Date.now());
      app.trouble = null;
      forgetDrawings();
    } catch (error) {
      app.trouble = { kind: error.kind, sentence: failureSentence(error) };
    }
    changed();
  };

  /** Takes up what the store holds from before this page was loaded. */
  app.load = async () => {
    for (const [, parcel] of await store.entries("parcel:")) app.parcels.set(parcel.id, parcel);
    for (const [, head] of await store.entries("walk:")) {
      const answers = {};
      for (const [key, answer] of await store.entries(`answer:${head.id}:`)) answers[key.split(":")[2]] = answer;
      app.walks.set(head.id, { ...head, ...(await store.get(`sheet:${head.id}`)), answers });
    }
    for (const [key, draft] of await store.entries("draft:")) app.drafts.set(key, draft);
  };

  // Always laid over the walk as it now stands, never over the one a screen was drawn from: an answer that was kept
  // since then would be gone from the page.
  const keepHead = async (id, change) => {
    const { answers, items, checks, face, ...head } = app.walks.get(id);
    await store.put(`walk:${id}`, { ...head, ...change });
    app.walks.set(id, { ...app.walks.get(id), ...change });
    return app.walks.get(id);
  };

  app.start = async (cart, purpose) => {
    const walk = openWalk({ id: crypto.randomUUID(), cart, purpose, reference: app.reference, at: isoNow() });
    const { answers, items, checks, face, ...head } = walk;
    await store.put(`sheet:${walk.id}`, { items, checks, face });
    await store.put(`walk:${walk.id}`, head);
    app.walks.set(walk.id, walk);
    return walk;
  };

  app.moveTo = (walk, n) => keepHead(walk.id, { position: n });

  app.seePass = (walk, pass) => keepHead(walk.id, { passes_seen: [...app.walks.get(walk.id).passes_seen, pass] });

  const draftKey = (walk, n) => `draft:${walk.id}:${n}`;
  app.draft = (walk, n) => app.drafts.get(draftKey(walk, n));

  /** Keeps a half-told fault, so that a knock or a break costs nothing. */
  app.keepDraft = async (walk, n, draft) => {
    await store.put(draftKey(walk, n), draft);
    app.drafts.set(draftKey(walk, n), draft);
    return draft;
  };

  app.dropDraft = async (walk, n) => {
    await store.remove(draftKey(walk, n));
    app.drafts.delete(draftKey(walk, n));
  };

  /** Keeps one answer. Resolves with the walk as it now stands; rejects, changing nothing, when the store did. */
  app.keep = async (walk, n, answer) => {
    // Half a character, which a keyboard may leave behind, has no place in a record that is to be hashed.
    const words = (answer.words ?? "").replace(/\p{Surrogate}/gu, "").trim();
    const whole = { photos: [], ...answer, words, at: isoNow() };
    await store.put(`answer:${walk.id}:${n}`, whole);
    const next = withAnswer(app.walks.get(walk.id), n, whole);
    app.walks.set(walk.id, next);
    await app.dropDraft(walk, n);
    return next;
  };

  app.keepPhoto = async ({ sha256: hash, blob }) => {
    await store.put(`photo:${hash}`, blob);
    return hash;
  };

  const photosNamed = (walk) =>
    walk.items.flatMap(({ n }) => [...(walk.answers[n]?.photos ?? []), ...(app.draft(walk, n)?.photos ?? [])]);

  /** Throws a walk that was never signed away, with its answers and those photos no other walk names. */
  app.dropWalk = async (walk) => {
    const others = [...app.walks.values()].filter((other) => other.id !== walk.id).flatMap(photosNamed);
    const photos = photosNamed(walk).filter((hash) => !others.includes(hash));
    await store.remove(`walk:${walk.id}`);
    await store.remove(`sheet:${walk.id}`);
    for (const { n } of walk.items) {
      await store.remove(`answer:${walk.id}:${n}`);
      await app.dropDraft(walk, n);
    }
    for (const hash of photos) await store.remove(`photo:${hash}`);
    app.walks.delete(walk.id);
  };

  /** Freezes the walk with a signature; from here on its bytes never change. */
  app.sign = async (walk, signature) => {
    const device = {
      id: tabletId(),
      time_zone: Intl.DateTimeFormat().resolvedOptions().timeZone,
      offset_ms: app.offset_ms,
    };
    const record = manifest(walk, { device, signature, signedAt: isoNow() });
    const text = canonical(record);
    const parcel = {
      id: walk.id,
      fleet_number: walk.face.fleet_number,
      purpose: walk.purpose,
      signed_at: record.signed_at,
      text,
      sha256: await sha256(text),
      photos: photosOf(record),
      photos_sent: [],
      receipt: null,
    };
    await store.put(`parcel:${walk.id}`, parcel);
    app.parcels.set(walk.id, parcel);
    return parcel;
  };

  /** Sends a signed record, or tries again. Never rejects: what happened is in app.sending and in the parcel. */
  app.send = async (id) => {
    if (app.sending.get(id)?.busy) return;
    const parcel = app.parcels.get(id);
    app.sending.set(id, { busy: true });
    changed();
    try {
      const receipt = await send(parcel, { store, wire, tell: changed });
      parcel.receipt = { ...receipt, received_at: receipt.received_at ?? isoNow() };
      await store.put(`parcel:${id}`, parcel);
      app.sending.set(id, { busy: false });
    } catch (error) {
      const final = error.kind === "refused" || error.kind === "photos_missing";
      app.sending.set(id, { busy: false, kind: error.kind, final, sentence: failureSentence(error) });
    }
    changed();
    if (parcel.receipt) app.fetchReference();
  };

  return app;
}
