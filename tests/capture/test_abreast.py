"""Several photos of one record travel at once where the line is quick; records go one after the other, oldest first."""

from typing import Any

import pytest
from playwright.sync_api import Page

pytestmark = pytest.mark.journey

# Two signed records of five photos each; a photo takes `took` ms by the outbox's own clock. What went how, in order.
SENT = """async ({ took, begun, shared }) => {
    const { createOutbox } = await import("/static/capture/outbox.js");
    const { memoryStore } = await import("/static/capture/store.js");
    const memory = memoryStore();
    // A disk that takes its time: what is read and written back meets what came meanwhile.
    const slowly = async (key) => {
        const found = await memory.get(key);
        await new Promise((done) => setTimeout(done, 3));
        return found;
    };
    const store = { ...memory, get: slowly };
    const names = (id) => [1, 2, 3, 4, 5].map((n) => (shared && n === 1 ? "same" : `${id}-${n}`));
    for (const [order, id] of ["old", "new"].entries()) {
        const parcel = { id, order, text: id, sha256: id, photos: names(id), photos_sent: [], begun };
        await store.put(`parcel:${id}`, { ...parcel, receipt: null, parked: null, held_at: null });
        for (const hash of names(id)) await store.put(`photo:${hash}`, { bytes: hash, type: "image/jpeg" });
    }
    let now = 1_000_000;
    let under_way = 0;
    const said = [];
    const most = { old: 0, new: 0 };
    const wire = {
        hello: async () => ({ person: { id: "p" }, server_time: new Date(now).toISOString() }),
        async photo(hash, _, { isNew }) {
            under_way += 1;
            const id = hash.split("-")[0];
            most[id] = Math.max(most[id] ?? 0, under_way);
            await new Promise((done) => setTimeout(done, 5));
            now += took;
            under_way -= 1;
            said.push(`${isNew ? "" : "ask "}${hash}`);
        },
        async walkRound(id, text) {
            said.push(under_way ? `${id} too early` : id);
            await new Promise((done) => setTimeout(done, 5));
            return { id, sha256: text, received_at: new Date(now).toISOString() };
        },
        held: async () => ({ held: {} }),
    };
    const clock = { now: () => now, after: () => () => {} };
    const outbox = createOutbox({ store, wire, clock, lock: (work) => work() });
    await outbox.poke();
    const kept = (await store.entries("parcel:")).map(([, one]) => [...one.photos_sent].sort());
    return { said, most, kept, names: ["new", "old"].map((id) => names(id).sort()), trouble: outbox.state.trouble };
}"""


def sent(page: Page, *, took: int = 10, begun: bool = False, shared: bool = False) -> dict[str, Any]:
    given: dict[str, Any] = page.evaluate(SENT, {"took": took, "begun": begun, "shared": shared})
    assert given["trouble"] is None
    # Photos that came at once are all noted; none overwrites another's.
    assert given["kept"] == given["names"]
    return given


@pytest.mark.parametrize(("took", "most"), [(10, {"old": 3, "new": 3}), (5_000, {"old": 1, "new": 1})])
def test_as_many_at_once_as_the_line_is_quick_for(modules: Page, took: int, most: dict[str, int]) -> None:
    assert sent(modules, took=took)["most"] == most


def test_a_record_goes_after_its_photos_and_before_the_next_ones(modules: Page) -> None:
    said = sent(modules)["said"]
    assert (said[5], said[11]) == ("old", "new")
    assert {one.split("-")[0] for one in said[:5]} == {"old"}
    assert {one.split("-")[0] for one in said[6:11]} == {"new"}


def test_the_yard_is_asked_only_about_what_may_have_been_sent(modules: Page) -> None:
    assert not [one for one in sent(modules)["said"] if one.startswith("ask")]
    assert len([one for one in sent(modules, begun=True)["said"] if one.startswith("ask")]) == 10
    # A photo of two records may have gone with the other.
    assert [one for one in sent(modules, shared=True)["said"] if one.startswith("ask")] == ["ask same"] * 2
