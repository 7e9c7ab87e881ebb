"""What the bench of the capture page runs inside the browser: watching the page, and the page's own modules at work."""

# Put into every page before anything of it runs.
WATCH = """() => {
    const seen = { list_at: 0, lcp_at: 0, slowest: 0, slowest_on: "", shift: 0, shift_after_tap: 0, taps: 0 };
    window.benchSeen = seen;
    const watch = (type, each, more) =>
        new PerformanceObserver((list) => list.getEntries().forEach(each)).observe({ type, buffered: true, ...more });
    watch("largest-contentful-paint", (entry) => { seen.lcp_at = entry.startTime; });
    watch("layout-shift", (entry) => { seen[entry.hadRecentInput ? "shift_after_tap" : "shift"] += entry.value; });
    watch("event", (entry) => {
        if (!entry.interactionId) return;
        seen.taps += 1;
        if (entry.duration <= seen.slowest) return;
        Object.assign(seen, { slowest: entry.duration, slowest_on: `${entry.name} at ${location.hash.slice(-40)}` });
    }, { durationThreshold: 16 });
    const look = new MutationObserver(() => {
        if (document.getElementById("page")?.className !== "screen-list") return;
        look.disconnect();
        requestAnimationFrame(() => setTimeout(() => { seen.list_at = performance.now(); }));
    });
    look.observe(document, { subtree: true, childList: true, attributes: true });
}"""

# The page's own modules under the names it loaded them by.
MODULES = """
    const named = (name) => performance.getEntriesByType("resource").map((one) => one.name)
        .find((url) => new RegExp(`/capture/${name}\\\\.[0-9a-f]+\\\\.js$`).test(url));
    const module = (name) => import(named(name));
    const [{ createApp }, { openStore }, { createOutbox }, { createWire }, { sha256 }] =
        await Promise.all(["app", "store", "outbox", "wire", "manifest"].map(module));
    const reference = async () => (await fetch("/sync/reference")).json();
    const quiet = { state: { offset_ms: 0 } };
"""

# Answers with a new photo each, one after the other; gives the milliseconds until both were on the disk.
COMMITS = f"""async ({{ cart, times, bytes }}) => {{
    {MODULES}
    const store = await openStore("slake-bench-commits");
    const app = createApp({{ store, wire: {{}}, outbox: quiet, changed() {{}} }});
    app.reference = await reference();
    const walk = await app.start(cart, "gate_out");
    const taken = [];
    for (let n = 0; n < times; n += 1) {{
        const photo = new Uint8Array(bytes);
        for (let at = 0; at < bytes; at += 65536) crypto.getRandomValues(photo.subarray(at, at + 65536));
        const hash = await sha256(photo);
        const began = performance.now();
        await app.keepPhoto({{ sha256: hash, bytes: photo.buffer, type: "image/jpeg" }});
        await app.keep(walk, 1 + (n % walk.items.length), {{ answer: "good", photos: [hash] }});
        taken.push(performance.now() - began);
    }}
    store.close();
    return taken;
}}"""

# Signs walk-rounds with these photos (base64), so many a walk, into a store of their own; gives [id, hash] of each.
SIGN = f"""async ({{ into, cart, photos, each }}) => {{
    {MODULES}
    const store = await openStore(into);
    const app = createApp({{ store, wire: {{}}, outbox: quiet, changed() {{}} }});
    app.reference = await reference();
    await app.load();
    const hashes = [];
    for (const photo of photos) {{
        const bytes = Uint8Array.from(atob(photo), (one) => one.charCodeAt(0));
        hashes.push(await app.keepPhoto({{ sha256: await sha256(bytes), bytes: bytes.buffer, type: "image/jpeg" }}));
    }}
    const signed = [];
    for (let first = 0; first < hashes.length; first += each) {{
        let walk = await app.start(cart, "gate_out");
        for (const item of walk.items) {{
            const check = walk.checks[item.check];
            const choice = check.choices.find((one) => !one.grade)?.key ?? null;
            const said = check.answer === "measure" ? {{ answer: "could_not_check", why: "dark" }} : {{ answer: "good", choice }};
            const value = check.answer === "date" ? "2028-05" : null;
            const own = hashes.slice(first, first + each).filter((_, n) => n % walk.items.length === item.n - 1);
            walk = await app.keep(walk, item.n, {{ ...said, value, photos: own }});
        }}
        const statement = app.reference.purposes.gate_out.statement;
        const parcel = await app.sign(walk, {{ kind: "typed", name: "Wes Tonkin", statement, strokes: [] }});
        signed.push([parcel.id, parcel.sha256, parcel.photos]);
    }}
    store.close();
    return signed;
}}"""

# The page's own outbox until everything in the store is with the yard; gives the milliseconds.
DRAIN = f"""async ({{ from }}) => {{
    {MODULES}
    const store = await openStore(from);
    const clock = {{ now: () => Date.now(), after: () => () => {{}} }};
    const outbox = createOutbox({{ store, wire: createWire(), clock, lock: (work) => work() }});
    const began = performance.now();
    await outbox.poke();
    const taken = performance.now() - began;
    store.close();
    if (outbox.state.trouble) throw new Error(outbox.state.trouble.sentence);
    return taken;
}}"""

# The rival: what anybody would write first. Each photo whole, then its record, one request after the other.
LOOP = f"""async ({{ from }}) => {{
    {MODULES}
    const store = await openStore(from);
    const parcels = (await store.entries("parcel:")).map(([, parcel]) => parcel).sort((a, b) => a.order - b.order);
    const began = performance.now();
    const {{ csrf }} = await (await fetch("/sync/hello")).json();
    const put = async (url, type, body) => {{
        const answer = await fetch(url, {{ method: "PUT", body, headers: {{ "Content-Type": type, "X-CSRFToken": csrf }} }});
        if (!answer.ok) throw new Error(`${{url}}: ${{answer.status}} ${{await answer.text()}}`);
        await answer.json();
    }};
    for (const parcel of parcels) {{
        for (const hash of parcel.photos) {{
            const photo = await store.get(`photo:${{hash}}`);
            await put(`/sync/photo/${{hash}}`, photo.type, photo.bytes);
        }}
        await put(`/sync/walk-round/${{parcel.id}}`, "application/json", parcel.text);
    }}
    const taken = performance.now() - began;
    store.close();
    return taken;
}}"""
