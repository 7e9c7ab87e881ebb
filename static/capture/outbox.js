// What was signed goes to the yard, oldest first, exactly once, however often the way breaks. No page in here: the
// store, the wire, the clock, the dice and the lock are handed in, so that every order of events can be tried without
// waiting.
//
// A parcel is a signed record on its way: {id, order, fleet_number, purpose, signed_at, text, sha256, photos,
// begun, photos_sent, receipt, parked, held_at, emptied_at}. Until it is emptied only the last six change.
// `begun`: something of it may have been sent.
// `receipt` is the yard's answer; `parked` {kind, sentence, at} says why a person must look at it; `held_at` is when
// the yard, asked again on another occasion, said that it has the record. Only then, and a week after its receipt, may
// its text and its photos go (`emptied_at`).

import { HEADS } from "./heads.js";
import { WireFailure, failureSentence } from "./wire.js";

const KEEP_PHOTOS_MS = 7 * 24 * 60 * 60 * 1000;
const FIRST_WAIT_MS = 2_000;
const LONGEST_WAIT_MS = 5 * 60 * 1000;
const MOST_TRIES = 2;
// Several photos travel at once only while one takes no longer than this: on a weak line they would all come too late.
const QUICK_MS = 4_000;
const ABREAST = 3;
// What only a person can set right. The others pass by themselves, or by signing in.
const FINAL = ["refused", "photos_missing"];

/** How long to wait after so many failures: anything up to a bound that doubles, so that tablets spread out. */
export const backOff = (failures, dice) =>
  Math.max(500, dice() * Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** Math.min(failures, 10)));

/**
 * The outbox over `store` and `wire`. `clock` has now() in ms and after(ms, call) giving a function that calls it off;
 * `lock(work)` runs work while no other page of this tablet sends, or gives false at once; `changed(parcel)` is called
 * after every step, `arrived()` when a round of sending brought a record to the yard, `heard(answer)` after a hello.
 *
 * poke() sends what waits, now and again by itself until nothing waits. `state` is {busy, trouble: null | {kind,
 * sentence}, person, tablet, offset_ms, failures}.
 */
export function createOutbox({ store, wire, clock, lock, dice = Math.random, ...told }) {
  const { changed, arrived, heard } = { changed() {}, arrived() {}, heard() {}, ...told };
  const state = { busy: false, trouble: null, person: null, tablet: null, offset_ms: null, failures: 0 };
  let callOff = null;
  let again = false;
  let brought = 0;
  let yardTime = 0;
  let abreast = 1;
  let noting = Promise.resolve();

  const parcels = async () =>
    (await store.entries("parcel:")).map(([, parcel]) => parcel).sort((a, b) => a.order - b.order);

  // Laid over the parcel as it stands in the store, one note after the other: another page, or another photo of this
  // one, may have sent a part of it meanwhile. `change` is the new members, or what makes them of the parcel.
  function note(id, change) {
    const write = async () => {
      const before = await store.get(`parcel:${id}`);
      const parcel = { ...before, ...(typeof change === "function" ? change(before) : change) };
      await store.put(`parcel:${id}`, parcel);
      changed(parcel);
      return parcel;
    };
    const noted = noting.then(write);
    noting = noted.catch(() => {});
    return noted;
  }

  async function hello() {
    const sent = clock.now();
    const answer = await wire.hello();
    const back = clock.now();
    state.person = answer.person;
    state.tablet = answer.tablet ?? null;
    await heard(answer);
    // The yard's clock less this one's, at the middle of the way there and back.
    yardTime = Date.parse(answer.server_time);
    state.offset_ms = Math.round(yardTime - (sent + back) / 2);
    if (!answer.person) throw new WireFailure("signed_out");
  }

  async function sendPhoto(id, hash, isNew) {
    const photo = await store.get(`photo:${hash}`);
    if (!photo) throw new WireFailure("photos_missing", { missing: [hash] });
    const began = clock.now();
    await wire.photo(hash, photo, { isNew });
    const took = clock.now() - began;
    abreast = took >= 0 && took < QUICK_MS ? ABREAST : 1;
    await note(id, ({ photos_sent: sent }) => ({ photos_sent: [...new Set([...sent, hash])] }));
  }

  /** Sends these photos, several at once where the line is quick. Rejects with what failed first. */
  async function sendPhotos({ id }, hashes, isNew = () => false) {
    const left = [...hashes];
    const under_way = new Set();
    let failed = null;
    const sendNext = () => {
      const hash = left.shift();
      return sendPhoto(id, hash, isNew(hash));
    };
    while (under_way.size || (left.length && !failed)) {
      while (left.length && !failed && under_way.size < abreast) {
        const one = sendNext()
          .catch((error) => {
            failed ??= error;
            abreast = 1;
          })
          .finally(() => under_way.delete(one));
        under_way.add(one);
      }
      await Promise.race(under_way);
    }
    if (failed) throw failed;
    return store.get(`parcel:${id}`);
  }

  const sendRecord = ({ purpose, id, text }) =>
    purpose === HEADS ? wire.headsTest(id, text) : wire.walkRound(id, text);

  async function sendOne(parcel, named) {
    // Of what was never begun the yard has nothing, and need not be asked how far it came.
    const isNew = (hash) => !parcel.begun && named.filter((one) => one === hash).length === 1;
    if (!parcel.begun && parcel.photos.length) await note(parcel.id, { begun: true });
    const left = parcel.photos.filter((hash) => !parcel.photos_sent.includes(hash));
    let whole = await sendPhotos(parcel, left, isNew);
    let answer = null;
    for (let tries = 0; !answer; tries += 1) {
      try {
        answer = await sendRecord(whole);
      } catch (error) {
        if (error.kind !== "photos_missing") throw error;
        // The yard has lost sight of a photo it once took: it says which, they go again, and so does the record. While
        // the tablet has them that is no fault of the record's, however often.
        if (tries === MOST_TRIES) throw new WireFailure("busy");
        const kept = whole.photos_sent.filter((hash) => !error.missing.includes(hash));
        whole = await sendPhotos(await note(whole.id, { photos_sent: kept }), error.missing);
      }
    }
    const receipt = { ...answer, received_at: answer.received_at ?? new Date(clock.now()).toISOString() };
    const differs = answer.sha256 !== whole.sha256 && {
      kind: "differs",
      sentence: failureSentence({ kind: "differs" }),
      at: clock.now(),
    };
    await note(whole.id, { receipt, parked: differs || null });
    brought += 1;
  }

  async function sendAll() {
    const all = await parcels();
    // With one entry for each parcel that a photo belongs to.
    const named = all.flatMap((one) => one.photos);
    for (const { id } of all.filter((one) => !one.receipt && !one.parked)) {
      const parcel = await store.get(`parcel:${id}`);
      if (parcel.receipt || parcel.parked) continue;
      changed(parcel);
      try {
        await sendOne(parcel, named);
      } catch (error) {
        if (!FINAL.includes(error.kind)) throw error;
        await note(id, { parked: { kind: error.kind, sentence: failureSentence(error), at: clock.now() } });
      }
    }
  }

  /** Asks what the yard has of what it acknowledged on an earlier occasion, and lets go of photos nobody needs. */
  async function settle(acknowledged) {
    const asked = acknowledged.filter((parcel) => !parcel.held_at).slice(0, 100);
    if (asked.length) {
      const { held } = await wire.held(asked.map((parcel) => parcel.id));
      for (const parcel of asked) {
        if (held[parcel.id] === parcel.sha256) await note(parcel.id, { held_at: clock.now() });
        // The yard acknowledged it and has it no longer: it goes again, whole.
        else if (held[parcel.id] === undefined) await note(parcel.id, { receipt: null, photos_sent: [] });
      }
    }
    for (const parcel of acknowledged.filter((one) => one.receipt.name_confirmed === false && one.text)) {
      // The same bytes again bring the receipt as it now is: its author may have said elsewhere that it was them.
      const { name_confirmed } = await wire.walkRound(parcel.id, parcel.text);
      if (name_confirmed) await named(parcel.id);
    }
    await purge();
  }

  /** Notes that the name under a record the yard has is confirmed. */
  async function named(id) {
    const { receipt } = await store.get(`parcel:${id}`);
    if (receipt) await note(id, { receipt: { ...receipt, name_confirmed: true } });
  }

  async function purge() {
    const all = await parcels();
    // By the yard's own word of what time it is: a tablet whose clock jumps years ahead would lose its photos at once.
    const done = (one) => one.held_at && yardTime - Date.parse(one.receipt.received_at) > KEEP_PHOTOS_MS;
    const needed = new Set(all.filter((one) => !done(one)).flatMap((one) => one.photos));
    for (const [, draft] of await store.entries("draft:")) for (const hash of draft.photos ?? []) needed.add(hash);
    for (const [, answer] of await store.entries("answer:")) for (const hash of answer.photos ?? []) needed.add(hash);
    for (const parcel of all.filter((one) => done(one) && !one.emptied_at)) {
      const gone = parcel.photos.filter((hash) => !needed.has(hash)).map((hash) => ["remove", `photo:${hash}`]);
      await store.commit([...gone, ["put", `parcel:${parcel.id}`, { ...parcel, text: "", emptied_at: clock.now() }]]);
    }
  }

  /** Once through. True when it came to its end, false when another page is sending; rejects with what broke it off. */
  async function drain() {
    const before = (await parcels()).filter((one) => one.receipt && !one.parked && !one.emptied_at);
    const work = async () => {
      await hello();
      await sendAll();
      await settle(before);
      return true;
    };
    return lock(work);
  }

  async function waits() {
    return (await parcels()).some((one) => !one.parked && (!one.receipt || !one.held_at));
  }

  /** Sends now, and goes on by itself while anything waits. Never rejects: what happened is in `state`. */
  async function poke() {
    callOff?.();
    callOff = null;
    if (state.busy) {
      again = true;
      return;
    }
    state.busy = true;
    changed();
    try {
      do {
        again = false;
        await drain();
      } while (again);
      state.failures = 0;
      state.trouble = null;
    } catch (error) {
      state.failures += 1;
      state.trouble = { kind: error.kind ?? "stumbled", sentence: failureSentence(error) };
    }
    state.busy = false;
    changed();
    if (brought) arrived();
    brought = 0;
    // Signed out, nothing moves until somebody signs in, and that pokes.
    if (state.trouble?.kind !== "signed_out" && (await waits())) {
      callOff = clock.after(backOff(state.failures, dice), poke);
    }
  }

  /** Takes a parked record up again, for a person who has set right what was wrong. */
  async function retry(id) {
    await note(id, { parked: null });
    state.failures = 0;
    await poke();
  }

  return { state, poke, retry, named };
}
