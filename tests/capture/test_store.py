"""The tablet's disk: all of a change or none of it, and none at all once a walk is signed."""

from typing import Any

import pytest
from playwright.sync_api import Page

pytestmark = pytest.mark.journey

KINDS = {
    "disk": 'await openStore("slake-trial")',
    "memory": "memoryStore()",
}


@pytest.fixture(params=KINDS)
def trial(request: pytest.FixtureRequest, modules: Page) -> Any:
    """Runs a script over an empty store of either kind, as `store`, and gives what it gives."""

    def inner(script: str) -> Any:
        return modules.evaluate(
            f"""async () => {{
                const {{ openStore, memoryStore, Taken }} = await import("/static/capture/store.js");
                const store = {KINDS[request.param]};
                const failed = async (work) => {{
                    try {{ await work; return null; }} catch (error) {{ return error.constructor.name; }}
                }};
                {script}
            }}"""
        )

    return inner


def test_what_is_kept_comes_back_as_a_copy_in_key_order(trial: Any) -> None:
    assert trial(
        """
        const given = { words: ["loose"] };
        await store.put("answer:a:2", given);
        await store.put("answer:a:1", 1);
        await store.put("answer:b:1", "another walk's");
        given.words.push("changed after");
        const back = await store.get("answer:a:2");
        back.words.push("changed outside");
        return [await store.entries("answer:a:"), await store.get("answer:none:1")];
        """
    ) == [[["answer:a:1", 1], ["answer:a:2", {"words": ["loose"]}]], None]


def test_a_change_is_made_whole_or_not_at_all(trial: Any) -> None:
    assert trial(
        """
        await store.put("walk:a", "begun");
        const why = await failed(store.commit([["put", "walk:a", "other"], ["put", "photo:x", () => 0]]));
        return [why, await store.get("walk:a"), await store.get("photo:x") ?? null];
        """
    ) == ["DOMException", "begun", None]


def test_nothing_is_kept_for_a_walk_that_is_signed(trial: Any) -> None:
    assert trial(
        """
        await store.commit([["put", "parcel:a", "signed"], ["remove", "walk:a"]], { unless: ["parcel:a"] });
        const again = await failed(store.commit([["put", "parcel:a", "twice"]], { unless: ["parcel:a"] }));
        const late = await failed(store.commit([["put", "answer:a:1", "late"]], { unless: ["parcel:a"] }));
        return [again, late, await store.get("parcel:a"), await store.entries("answer:")];
        """
    ) == ["Taken", "Taken", "signed", []]


def test_bytes_come_back_as_they_were(trial: Any) -> None:
    assert trial(
        """
        await store.put("photo:x", { bytes: new Uint8Array([0, 255, 7]).buffer, type: "image/jpeg" });
        const { bytes, type } = await store.get("photo:x");
        return [[...new Uint8Array(bytes)], bytes instanceof ArrayBuffer, type];
        """
    ) == [[0, 255, 7], True, "image/jpeg"]
