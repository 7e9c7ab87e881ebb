// What the page knows and every change it can make. A change is in the store before it is in the page: a screen that
// shows an answer as chosen shows a receipt.

import { drawFrom, dropDrawings, keepDrawings } from "./lap.js";
import { HEADS, openAgain, openHeadsTest, signedHeads } from "./heads.js";
import { manifest, canonical, photosOf, sha256 } from "./manifest.js";
import { Taken } from "./store.js";
import { failureSentence } from "./wire.js";
import { createWho } from "./who.js";
import { openWalk, ownOutcome, withAnswer } from "./walk.js";

const isoNow = () => new Date().toISOString();
const NO_PLACE =
  "There was no room to note where you are. Your answers are safe and the walk goes on; a break lands further back.";
// Under this a walk-round is not begun: eight photos, twice over, and what the browser needs to work.
const LEAST_ROOM_BYTES = 30 * 1024 * 1024;

function tabletId() {
  try {
    const kept = localStorage.getItem("slake-tablet") ?? crypto.randomUUID();
    localStorage.setItem("slake-tablet", kept);
    return kept;
  } catch {
    return crypto.randomUUID();
  }
}

/** Told when there is no room on the tablet for another walk-round. */
export class NoRoom extends Error {}

/**
 * The state of the page over a store, a wire and an outbox. `changed()` is called when something changed outside a tap;
 * `wrote()` when this page has kept something that other pages of the tablet show too.
 */
export function createApp({ store, wire, outbox, changed, wrote = () => {} }) {
  const app = {
    store,
    outbox,
    reference: null,
    fetched_at: null,
    offset_ms: 0,
    trouble: null,
    room: null,
    walks: new Map(),
    drafts: new Map(),
    parcels: new Map(),
    find: "",
    last_kept: "",
    notice: null,
    now: isoNow,
  };

  drawFrom(store);

  app.who = createWho({ store, wire, wrote });
  /** Who has the tablet, and signs. */
  app.person = () => app.who.kept?.person ?? app.reference.person;
  /** Whether people change over on this tablet. */
  app.isShared = () => Boolean(app.reference?.people?.length);
  app.colleague = (id) => app.reference.people?.find((one) => one.id === id);

  app.cart = (id) => app.reference.carts.find((cart) => cart.id === id);
  app.openWalkOf = (cart, purpose) =>
    [...app.walks.values()].find((walk) => walk.cart === cart && (!purpose || walk.purpose === purpose));
  app.unsent = () => [...app.parcels.values()].filter((parcel) => !parcel.receipt);
  app.unfinished = () => [...app.walks.values()];

  const takeUp = (kept) => {
    app.reference = kept.reference;
    app.fetched_at = kept.fetched_at;
    app.offset_ms = kept.offset_ms;
  };

  /** Fetches carts, checks and words afresh. A failure is kept as a sentence; what was fetched before stays. */
  app.fetchReference = async () => {
    try {
      const reference = await wire.reference();
      const offset_ms = Math.round(Date.parse(reference.server_time) - Date.now());
      const { csrf, ...kept } = reference;
      takeUp({ reference: kept, fetched_at: isoNow(), offset_ms });
      await app.who.heard(kept);
      app.trouble = null;
      dropDrawings();
      await store.put("reference:yard", { reference: kept, fetched_at: app.fetched_at, offset_ms });
    } catch (error) {
      app.trouble = { kind: error.kind, sentence: failureSentence(error) };
    }
    changed();
    if (!app.trouble) keepDrawings(app.reference.carts);
  };

  /** Takes up what the store holds, from before this page was loaded or from another page of this tablet. */
  app.load = async () => {
    const kept = await store.get("reference:yard");
    if (kept && !(app.fetched_at > kept.fetched_at)) takeUp(kept);
    await app.who.load();
    const [parcels, heads, drafts] = await Promise.all(["parcel:", "walk:", "draft:"].map((one) => store.entries(one)));
    app.parcels = new Map(parcels.map(([, parcel]) => [parcel.id, parcel]));
    const walks = new Map();
    for (const [, head] of heads) {
      const answers = {};
      for (const [key, answer] of await store.entries(`answer:${head.id}:`)) answers[key.split(":")[2]] = answer;
      walks.set(head.id, { ...head, ...(await store.get(`sheet:${head.id}`)), answers });
    }
    app.walks = walks;
    app.drafts = new Map(drafts);
    await app.lookAtRoom();
  };

  /** How much room the tablet has left, in bytes; null when the browser does not tell. */
  app.lookAtRoom = async () => {
    const { quota, usage } = (await navigator.storage?.estimate?.()) ?? {};
    app.room = quota === undefined ? null : quota - usage;
    return app.room;
  };

  /** For how many more walk-rounds that is; null when the browser does not tell. */
  app.roomFor = () => (app.room === null ? null : Math.floor(app.room / LEAST_ROOM_BYTES));

  // A walk that was signed, here or on another page, takes no more changes.
  const change = async (id, changes) => {
    await store.commit(changes, { unless: [`parcel:${id}`] });
    wrote();
  };

  // Always laid over the walk as it now stands, never over the one a screen was drawn from: an answer that was kept
  // since then would be gone from the page. Where one stands is no answer: without room for it the walk goes on.
  const keepHead = async (id, part) => {
    const { answers, items, checks, face, lot, ...head } = app.walks.get(id);
    try {
      await change(id, [["put", `walk:${id}`, { ...head, ...part }]]);
    } catch (error) {
      if (error instanceof Taken) throw error;
      app.notice = { sentence: NO_PLACE, shown: false };
    }
    app.walks.set(id, { ...app.walks.get(id), ...part });
    return app.walks.get(id);
  };

  /** Begins a walk-round. Rejects with NoRoom rather than begin one that could not be kept to its end. */
  app.start = async (cart, purpose) => {
    const room = await app.lookAtRoom();
    if (room !== null && room < LEAST_ROOM_BYTES) throw new NoRoom();
    const open = purpose === HEADS ? openHeadsTest : openWalk;
    const begun = open({ id: crypto.randomUUID(), cart, purpose, reference: app.reference, at: isoNow() });
    return keepBegun({ ...begun, begun_by: app.person() });
  };

  // All of a walk that begins, in one change with what makes way for it.
  const keepBegun = async (walk, instead = []) => {
    const { answers, items, checks, face, lot, ...head } = walk;
    const given = Object.entries(answers).map(([n, answer]) => ["put", `answer:${walk.id}:${n}`, answer]);
    await change(walk.id, [
      ["put", `sheet:${walk.id}`, { items, checks, face, lot }],
      ["put", `walk:${walk.id}`, head],
      ...given,
      ...instead,
    ]);
    app.walks.set(walk.id, walk);
    return walk;
  };

  /**
   * Begins a test of heads anew with the figures of one the yard refused, against the heads the yard has by now; the
   * refused one goes in the same change. null where those heads are not known here.
   */
  app.takeUpHeads = (parcel) => (takingUp ??= mend(parcel).finally(() => (takingUp = null)));
  let takingUp = null;

  const mend = async (parcel) => {
    await app.fetchReference();
    const record = JSON.parse(parcel.text);
    if (!app.cart(record.cart)?.spray) return null;
    const fresh = openAgain(record, { id: crypto.randomUUID(), reference: app.reference });
    const walk = await keepBegun({ ...fresh, begun_by: app.person() }, [["remove", `parcel:${parcel.id}`]]);
    app.parcels.delete(parcel.id);
    return walk;
  };

  /** Keeps the words that go with a test of heads. Rejects, changing nothing, when the store did. */
  app.keepWords = async (walk, words) => {
    const { answers, items, checks, face, lot, ...head } = app.walks.get(walk.id);
    const plain = words.replace(/\p{Surrogate}/gu, "");
    await change(walk.id, [["put", `walk:${walk.id}`, { ...head, words: plain }]]);
    app.walks.set(walk.id, { ...app.walks.get(walk.id), words: plain });
  };

  app.moveTo = (walk, n) => keepHead(walk.id, { position: n });

  app.seePass = (walk, pass) => keepHead(walk.id, { passes_seen: [...app.walks.get(walk.id).passes_seen, pass] });

  const draftKey = (walk, n) => `draft:${walk.id}:${n}`;
  app.draft = (walk, n) => app.drafts.get(draftKey(walk, n));

  /** Keeps a half-told fault, so that a knock or a break costs nothing. */
  app.keepDraft = async (walk, n, draft) => {
    await change(walk.id, [["put", draftKey(walk, n), draft]]);
    app.drafts.set(draftKey(walk, n), draft);
    return draft;
  };

  app.dropDraft = async (walk, n) => {
    await change(walk.id, [["remove", draftKey(walk, n)]]);
    app.drafts.delete(draftKey(walk, n));
  };

  /** Keeps one answer. Resolves with the walk as it now stands; rejects, changing nothing, when the store did. */
  app.keep = async (walk, n, answer) => {
    // Half a character, which a keyboard may leave behind, has no place in a record that is to be hashed.
    const words = (answer.words ?? "").replace(/\p{Surrogate}/gu, "").trim();
    const whole = { photos: [], ...answer, words, at: isoNow() };
    await change(walk.id, [
      ["put", `answer:${walk.id}:${n}`, whole],
      ["remove", draftKey(walk, n)],
    ]);
    app.drafts.delete(draftKey(walk, n));
    const next = withAnswer(app.walks.get(walk.id), n, whole);
    app.walks.set(walk.id, next);
    return next;
  };

  app.keepPhoto = async ({ sha256: hash, bytes, type }) => {
    await store.put(`photo:${hash}`, { bytes, type });
    return hash;
  };

  const photosNamed = (walk) =>
    walk.items.flatMap(({ n }) => [...(walk.answers[n]?.photos ?? []), ...(app.draft(walk, n)?.photos ?? [])]);
  const keysOf = (walk) => [
    `walk:${walk.id}`,
    `sheet:${walk.id}`,
    ...walk.items.flatMap(({ n }) => [`answer:${walk.id}:${n}`, draftKey(walk, n)]),
  ];
  const forget = (walk) => {
    app.walks.delete(walk.id);
    for (const { n } of walk.items) app.drafts.delete(draftKey(walk, n));
  };

  /** Throws a walk that was never signed away, with its answers and those photos nothing else names. */
  app.dropWalk = async (walk) => {
    const others = [...app.walks.values()].filter((other) => other.id !== walk.id).flatMap(photosNamed);
    const signed = [...app.parcels.values()].flatMap((parcel) => parcel.photos);
    const photos = photosNamed(walk).filter((hash) => ![...others, ...signed].includes(hash));
    const gone = [...keysOf(walk), ...photos.map((hash) => `photo:${hash}`)];
    await change(walk.id, gone.map((key) => ["remove", key]));
    forget(walk);
  };

  const signedWalk = (walk, by) => {
    const record = manifest(walk, by);
    return [record, { photos: photosOf(record), own_outcome: ownOutcome(walk) }];
  };

  /** Freezes the walk with a signature. In one change the record is on its way and its draft is gone. */
  app.sign = async (walk, signature) => {
    const device = {
      id: tabletId(),
      time_zone: Intl.DateTimeFormat().resolvedOptions().timeZone,
      offset_ms: outbox.state.offset_ms ?? app.offset_ms,
    };
    const { id, name } = app.person();
    const author = { id, name, how: app.who.kept?.by_name ? "name" : "sign_in" };
    const by = { device, signature, author, signedAt: isoNow() };
    const [record, own] = walk.purpose === HEADS ? signedHeads(walk, by, app.reference) : signedWalk(walk, by);
    const text = canonical(record);
    const parcel = {
      id: walk.id,
      order: Math.max(0, ...[...app.parcels.values()].map((one) => one.order)) + 1,
      fleet_number: walk.face.fleet_number,
      purpose: walk.purpose,
      signed_at: record.signed_at,
      author: record.author,
      ...own,
      text,
      sha256: await sha256(text),
      begun: false,
      photos_sent: [],
      receipt: null,
      parked: null,
      held_at: null,
    };
    await change(walk.id, [
      ["put", `parcel:${walk.id}`, parcel],
      ...keysOf(walk).map((key) => ["remove", key]),
    ]);
    app.parcels.set(walk.id, parcel);
    forget(walk);
    return parcel;
  };

  /** The author says by PIN that a record was theirs; its receipt says so from then on. */
  app.confirmName = async (parcel, pin) => {
    await wire.confirmName(parcel.id, pin);
    await outbox.named(parcel.id);
  };

  return app;
}
