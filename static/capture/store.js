// Where the page keeps what was answered: on the tablet's disk, through a few asynchronous calls that copy in and out.

import { openDB } from "../vendor/idb/idb.js";

/** A change that was not to be made because one of its `unless` keys is there already. Nothing of it was kept. */
export class Taken extends Error {}

/** The names of what a browser says when the disk under a store is full, or fails. */
export const DISK_FAULTS = ["QuotaExceededError", "UnknownError", "AbortError", "InvalidStateError"];

// The kinds of keys, by what stands before their first colon, and the shelf each lies on.
const SHELVES = {
  reference: "reference",
  lap: "reference",
  walk: "drafts",
  sheet: "drafts",
  answer: "drafts",
  draft: "drafts",
  photo: "photos",
  parcel: "outbox",
};
const FORM = 1;

const shelfOf = (key) => SHELVES[key.slice(0, key.indexOf(":"))];
const within = (prefix) => IDBKeyRange.bound(prefix, `${prefix}\uffff`);

/**
 * The store of one principal on this tablet.
 *
 * get(key) gives a copy or undefined; entries(prefix) gives [key, copy] pairs in key order; commit(changes, {unless})
 * keeps all of [["put", key, value], ["remove", key], …] or none, and resolves only when the disk says it is written;
 * it rejects with Taken when a key of `unless` is there. put and remove are commits of one change. `stale()` is called
 * when another page wants to change the store's form: this one has let go of it and must be loaded again.
 * `begunAnew()` is called when there was no store of that name.
 */
export async function openStore(name, { stale = () => {}, begunAnew = () => {} } = {}) {
  let opening = null;
  // A browser lets go of a store when its disk fails, full for instance. The next call opens it again, or fails
  // as the disk does; the page works on meanwhile.
  const letGo = () => {
    opening = null;
  };
  const opened = () =>
    (opening ??= openDB(name, FORM, {
      upgrade(fresh) {
        for (const shelf of new Set(Object.values(SHELVES))) fresh.createObjectStore(shelf);
        begunAnew();
      },
      async blocking() {
        (await opening)?.close();
        stale();
      },
      terminated: letGo,
    }).catch((error) => {
      letGo();
      throw error;
    }));
  await opened();

  // Its requests say what went wrong; its end is waited for by nobody and must not go by unheard.
  async function reading(shelf) {
    const work = (await opened()).transaction(shelf, "readonly");
    work.done.catch(() => {});
    return work;
  }

  async function commit(changes, { unless = [] } = {}) {
    const db = await opened();
    const keys = [...changes.map(([, key]) => key), ...unless];
    const work = db.transaction([...new Set(keys.map(shelfOf))], "readwrite", { durability: "strict" });
    const done = work.done;
    // The transaction's own end is what is waited for; a request that fails first must not go by unheard.
    done.catch(() => {});
    try {
      for (const key of unless) {
        if ((await work.objectStore(shelfOf(key)).getKey(key)) !== undefined) throw new Taken(key);
      }
      // Asynchronous, so that a write refused on the spot leaves none of those before it unheard.
      await Promise.all(
        changes.map(async ([verb, key, value]) => {
          const shelf = work.objectStore(shelfOf(key));
          return verb === "put" ? shelf.put(value, key) : shelf.delete(key);
        }),
      );
    } catch (error) {
      try {
        work.abort();
      } catch {
        // It was over already.
      }
      throw error;
    }
    await done;
  }

  return {
    commit,
    put: (key, value) => commit([["put", key, value]]),
    remove: (key) => commit([["remove", key]]),
    get: async (key) => (await reading(shelfOf(key))).store.get(key),
    async entries(prefix) {
      const work = await reading(shelfOf(prefix));
      const [keys, values] = await Promise.all([
        work.store.getAllKeys(within(prefix)),
        work.store.getAll(within(prefix)),
      ]);
      return keys.map((key, index) => [key, values[index]]);
    },
    close: async () => (await opened()).close(),
  };
}

/** The same calls over the page's memory: for a browser that keeps nothing, and for trying every order of events. */
export function memoryStore(kept = new Map()) {
  async function commit(changes, { unless = [] } = {}) {
    const taken = unless.find((key) => kept.has(key));
    if (taken) throw new Taken(taken);
    const copies = changes.map(([verb, key, value]) => [verb, key, structuredClone(value)]);
    for (const [verb, key, value] of copies) {
      if (verb === "put") kept.set(key, value);
      else kept.delete(key);
    }
  }
  return {
    commit,
    put: (key, value) => commit([["put", key, value]]),
    remove: (key) => commit([["remove", key]]),
    get: async (key) => structuredClone(kept.get(key)),
    async entries(prefix) {
      const found = [...kept].filter(([key]) => key.startsWith(prefix));
      return structuredClone(found.sort(([a], [b]) => (a < b ? -1 : 1)));
    },
    close() {},
  };
}
