// Where the page keeps what was answered. Everything goes through these four asynchronous calls and is copied in and
// out, exactly as a store on the tablet's disk would do it, so that one can take this place without a change elsewhere.

/**
 * A store that lives as long as the page does.
 *
 * put(key, value) resolves once the value is safe and rejects if it is not; get(key) gives a copy or undefined;
 * entries(prefix) gives [key, copy] pairs in key order; remove(key) forgets one.
 */
export function createStore() {
  const kept = new Map();
  return {
    async put(key, value) {
      kept.set(key, structuredClone(value));
    },
    async get(key) {
      return structuredClone(kept.get(key));
    },
    async entries(prefix) {
      const found = [...kept].filter(([key]) => key.startsWith(prefix));
      return structuredClone(found.sort(([a], [b]) => (a < b ? -1 : 1)));
    },
    async remove(key) {
      kept.delete(key);
    },
  };
}
