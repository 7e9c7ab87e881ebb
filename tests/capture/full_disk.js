// Laid under the page before its scripts run: notes what it writes to the tablet's disk, and has one write of each step fail
// for want of room. `fullDisk.armed` {nth, way} says which, counted from the last next(): "at once" fails the request
// itself, "at the end" lets it through and fails the commit it belongs to. next(spared) names the kinds that go on by
// themselves and are not counted in this step.
(() => {
  const disk = { writes: [], failed: null, armed: null };
  let counted = 0;
  let spared = [];
  const noRoom = () => new DOMException("No room is left on this disk.", "QuotaExceededError");
  const failAtTheEnd = (work, request) => {
    Object.defineProperty(work, "error", { value: noRoom() });
    request.addEventListener("success", () => work.abort());
  };

  for (const [verb, keyAt] of [["put", 1], ["delete", 0]]) {
    const real = IDBObjectStore.prototype[verb];
    IDBObjectStore.prototype[verb] = function write(...given) {
      disk.writes.push({ verb, key: given[keyAt] });
      const counts = !spared.includes(String(given[keyAt]).split(":")[0]);
      if (counts) counted += 1;
      const isIt = counts && disk.armed?.nth === counted && !disk.failed;
      if (isIt) disk.failed = disk.writes.at(-1);
      if (isIt && disk.armed.way === "at once") throw noRoom();
      const request = real.apply(this, given);
      if (isIt) failAtTheEnd(this.transaction, request);
      return request;
    };
  }

  disk.next = (kinds = []) => {
    [counted, spared] = [0, kinds];
    disk.failed = null;
  };

  /** Everything on the disk, by key; bytes by their hash. */
  disk.kept = async () => {
    const hash = async (bytes) => [...new Uint8Array(await crypto.subtle.digest("SHA-256", bytes))].join();
    const open = indexedDB.open("slake-yard");
    const db = await new Promise((done) => { open.onsuccess = () => done(open.result); });
    const found = {};
    for (const shelf of db.objectStoreNames) {
      const store = db.transaction(shelf, "readonly").objectStore(shelf);
      const [keys, values] = await Promise.all([store.getAllKeys(), store.getAll()].map(
        (request) => new Promise((done) => { request.onsuccess = () => done(request.result); }),
      ));
      for (const [index, key] of keys.entries()) {
        const { bytes, ...value } = Object(values[index]);
        found[key] = bytes ? await hash(bytes) : JSON.stringify(typeof values[index] === "string" ? values[index] : value);
      }
    }
    db.close();
    return found;
  };

  window.fullDisk = disk;
})();
