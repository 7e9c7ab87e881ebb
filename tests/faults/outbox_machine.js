// A world round the page's own outbox: a disk, a yard, a network, a clock and pages that die, all in memory and all moved by
// one seed. run({from, count}) plays that many seeds and gives what went wrong: [{seed, fault}].
async ({ from, count, only }) => {
  const { createOutbox } = await import("/static/capture/outbox.js");
  const { memoryStore } = await import("/static/capture/store.js");
  const { WireFailure } = await import("/static/capture/wire.js");

  const WEEK_MS = 7 * 24 * 3600 * 1000;
  const YEAR_MS = 365 * 24 * 3600 * 1000;
  const DEAD = new Promise(() => {});

  const diceOf = (seed) => () => {
    seed = (seed + 0x6d2b79f5) | 0;
    let t = Math.imul(seed ^ (seed >>> 15), 1 | seed);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };

  class World {
    constructor(seed) {
      this.dice = diceOf(seed);
      this.disk = new Map();
      // The true time, and how far the tablet is from it.
      this.now = 1_000_000_000_000;
      this.skew = 0;
      this.timers = [];
      this.pages = [];
      this.holder = null;
      this.yard = { photos: new Set(), records: new Map(), writes: new Map() };
      this.signed = new Map();
      this.poisoned = new Set();
      this.signed_out = false;
      this.trouble = 0.25;
      this.purged_early = null;
      this.order = 0;
    }

    chance(p) {
      return this.dice() < p;
    }

    pick(list) {
      return list[Math.floor(this.dice() * list.length)];
    }

    // Dies here and there at the edge of every step: what was awaited never comes, as when a tab is killed.
    async step(page) {
      if (!page.alive) return DEAD;
      if (this.chance(this.trouble / 20)) {
        this.kill(page);
        return DEAD;
      }
      await null;
      return page.alive ? undefined : DEAD;
    }

    kill(page) {
      page.alive = false;
      if (this.holder === page) this.holder = null;
      this.timers = this.timers.filter((timer) => timer.page !== page);
      this.pages = this.pages.filter((one) => one !== page);
    }

    storeOf(page) {
      const real = memoryStore(this.disk);
      const guarded = (name) => async (...given) => {
        await this.step(page);
        const writes = name === "put" || name === "commit" || name === "remove";
        if (writes && this.chance(this.trouble / 10)) throw new DOMException("full", "QuotaExceededError");
        const before = name === "commit" ? [...this.disk.keys()] : null;
        const answer = await real[name](...given);
        if (before) this.watchPurge(before);
        await this.step(page);
        return answer;
      };
      return Object.fromEntries(["get", "put", "commit", "remove", "entries"].map((name) => [name, guarded(name)]));
    }

    // A photo may leave the tablet only when every record that names it is with the yard, was said to be, and is a week old.
    watchPurge(before) {
      for (const key of before) {
        if (!key.startsWith("photo:") || this.disk.has(key)) continue;
        for (const [id, one] of this.signed) {
          if (!one.photos.includes(key.slice(6))) continue;
          const parcel = this.disk.get(`parcel:${id}`);
          const old = parcel.receipt && this.now - Date.parse(parcel.receipt.received_at) > WEEK_MS;
          if (!parcel.held_at || !old || !this.yard.records.has(id)) this.purged_early = key;
        }
      }
    }

    async way(page, work) {
      await this.step(page);
      const no = (kind) => {
        throw new WireFailure(kind);
      };
      if (this.chance(this.trouble)) no(this.pick(["no_network", "slow", "busy", "not_json", "not_allowed"]));
      if (this.signed_out && work.wants_person !== false) no("signed_out");
      const answer = work();
      // The yard did it, and its answer was lost on the way back.
      if (this.chance(this.trouble)) no(this.pick(["no_network", "slow", "not_json"]));
      await this.step(page);
      return answer;
    }

    // A record of either kind, each at its own address.
    take(page, purpose, id, text) {
      const { yard } = this;
      return this.way(page, () => {
        const signed = this.signed.get(id);
        if (this.poisoned.has(id)) throw new WireFailure("refused", { detail: "No such cart." });
        if (signed.purpose !== purpose) throw new WireFailure("refused", { detail: "At another address." });
        const kept = yard.records.get(id);
        if (kept !== undefined && kept !== text) throw new WireFailure("refused", { detail: "Changed." });
        const missing = signed.photos.filter((hash) => !yard.photos.has(hash));
        if (missing.length) throw new WireFailure("photos_missing", { missing });
        if (kept === undefined) yard.writes.set(id, (yard.writes.get(id) ?? 0) + 1);
        yard.records.set(id, text);
        return { id, sha256: `hash of ${text}`, received_at: new Date(this.now).toISOString(), outcome: "ready" };
      });
    }

    wireOf(page) {
      const { yard } = this;
      const hello = () => ({
        version: 1,
        csrf: "token",
        server_time: new Date(this.now).toISOString(),
        person: this.signed_out ? null : { id: "p", name: "Ira Pell" },
      });
      hello.wants_person = false;
      return {
        hello: () => this.way(page, hello),
        photo: (hash, { bytes }) =>
          this.way(page, () => {
            if (bytes !== `bytes of ${hash}`) throw new WireFailure("refused", { detail: "Not that photo." });
            yard.photos.add(hash);
            return { sha256: hash };
          }),
        walkRound: (id, text) => this.take(page, "daily", id, text),
        headsTest: (id, text) => this.take(page, "heads_test", id, text),
        held: (ids) =>
          this.way(page, () => {
            const mine = ids.filter((id) => yard.records.has(id));
            return { held: Object.fromEntries(mine.map((id) => [id, `hash of ${yard.records.get(id)}`])) };
          }),
      };
    }

    open() {
      const page = { alive: true };
      const clock = {
        now: () => this.now + this.skew,
        after: (ms, call) => {
          const timer = { at: this.now + ms, call, page };
          if (page.alive) this.timers.push(timer);
          return () => {
            this.timers = this.timers.filter((one) => one !== timer);
          };
        },
      };
      const lock = async (work) => {
        if (!page.alive) return DEAD;
        if (this.holder) return false;
        this.holder = page;
        try {
          return await work();
        } finally {
          if (this.holder === page) this.holder = null;
        }
      };
      page.outbox = createOutbox({
        store: this.storeOf(page),
        wire: this.wireOf(page),
        clock,
        dice: this.dice,
        lock,
      });
      this.pages.push(page);
      return page;
    }

    // As app.sign() does it: the record and nothing else, in one change that either is there or is not.
    sign() {
      const id = `w${this.signed.size}`;
      // Some photos belong to two records.
      const purpose = this.chance(0.2) ? "heads_test" : "daily";
      const most = purpose === "daily" ? 4 : 0;
      const photos = Array.from({ length: Math.floor(this.dice() * most) }, () => `h${Math.floor(this.dice() * 12)}`);
      const unique = [...new Set(photos)];
      for (const hash of unique) this.disk.set(`photo:${hash}`, { bytes: `bytes of ${hash}`, type: "image/jpeg" });
      const text = `text of ${id}`;
      this.order += 1;
      this.signed.set(id, { text, photos: unique, purpose });
      if (this.chance(0.05)) this.poisoned.add(id);
      this.disk.set(`parcel:${id}`, {
        id, order: this.order, purpose, text, sha256: `hash of ${text}`, photos: unique, photos_sent: [], receipt: null,
        parked: null, held_at: null, signed_at: new Date(this.now + this.skew).toISOString(),
      });
    }

    async settle() {
      for (let turn = 0; turn < 400; turn += 1) await null;
    }

    fireTimers() {
      const due = this.timers.filter((timer) => timer.at <= this.now);
      this.timers = this.timers.filter((timer) => timer.at > this.now);
      for (const timer of due) if (timer.page.alive) timer.call();
    }

    async act() {
      const what = this.dice();
      const page = this.pages.length ? this.pick(this.pages) : this.open();
      if (what < 0.25) this.sign();
      else if (what < 0.55) page.outbox.poke();
      else if (what < 0.62) this.kill(page);
      else if (what < 0.7 && this.pages.length < 3) this.open();
      else if (what < 0.76) this.signed_out = !this.signed_out;
      else if (what < 0.8) this.skew = Math.round((this.dice() - 0.5) * 20 * YEAR_MS);
      else if (what < 0.83 && this.yard.photos.size) this.loseAPhoto();
      else {
        this.now += Math.round(this.dice() * 400_000);
        this.fireTimers();
      }
      // Anything from nothing to much of what was begun goes on before the next thing happens.
      for (let turn = Math.floor(this.dice() * 120); turn > 0; turn -= 1) await null;
    }

    // The yard loses sight of a photo that no kept record names yet.
    loseAPhoto() {
      const named = new Set([...this.yard.records.keys()].flatMap((id) => this.signed.get(id).photos));
      const loose = [...this.yard.photos].filter((hash) => !named.has(hash));
      if (loose.length) this.yard.photos.delete(this.pick(loose));
    }

    async heal() {
      this.trouble = 0;
      this.signed_out = false;
      for (const page of [...this.pages]) if (this.chance(0.5)) this.kill(page);
      const page = this.pages[0] ?? this.open();
      await this.settle();
      page.outbox.poke();
      // No hand touches it from here on: its own timers must bring everything home.
      for (let turn = 0; turn < 60; turn += 1) {
        await this.settle();
        this.now += 400_000;
        this.fireTimers();
      }
      return page;
    }

    verdict() {
      const { yard } = this;
      if (this.purged_early) return `${this.purged_early} left the tablet too early`;
      for (const [id, one] of this.signed) {
        const parcel = this.disk.get(`parcel:${id}`);
        if (this.poisoned.has(id)) {
          if (!parcel.parked?.sentence) return `${id} was refused and is not parked with a reason`;
          if (yard.records.has(id)) return `${id} was refused and is with the yard`;
          continue;
        }
        if (yard.records.get(id) !== one.text) return `${id} is not with the yard as it was signed`;
        if (yard.writes.get(id) !== 1) return `${id} was kept ${yard.writes.get(id)} times`;
        if (!parcel.receipt) return `${id} has no receipt on the tablet`;
        if (!parcel.held_at) return `${id} was never confirmed`;
        if (parcel.parked) return `${id} is parked: ${parcel.parked.sentence}`;
      }
      if (yard.records.size !== this.signed.size - this.poisoned.size) return "the yard has records nobody signed";
      return null;
    }

    async emptied(page) {
      this.now += 2 * WEEK_MS;
      page.outbox.poke();
      for (let turn = 0; turn < 5; turn += 1) await this.settle();
      if (this.purged_early) return `${this.purged_early} left the tablet too early`;
      const needed = new Set([...this.poisoned].flatMap((id) => this.signed.get(id).photos));
      for (const key of this.disk.keys()) {
        if (key.startsWith("photo:") && !needed.has(key.slice(6))) return `${key} never left the tablet`;
      }
      for (const hash of needed) if (!this.disk.has(`photo:${hash}`)) return `photo:${hash} of a parked record is gone`;
      return null;
    }
  }

  async function play(seed) {
    const world = new World(seed);
    for (let acts = 12 + Math.floor(world.dice() * 18); acts > 0; acts -= 1) await world.act();
    const page = await world.heal();
    return world.verdict() ?? (await world.emptied(page));
  }

  if (only !== undefined) return [{ seed: only, fault: await play(only) }];
  const faults = [];
  for (let seed = from; seed < from + count; seed += 1) {
    const fault = await play(seed);
    if (fault) faults.push({ seed, fault });
    if (faults.length >= 5) break;
  }
  return faults;
};
