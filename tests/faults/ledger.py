"""What a person confirmed on a tablet, noted outside its browser, and whether the yard has it: once, byte for byte."""

from __future__ import annotations

import hashlib
import io
import json
import random
from collections.abc import Collection, Mapping

from PIL import Image
from playwright.sync_api import expect

from tests.faults.tablet import KnockedTablet
from tests.journeys.walk import Finding, Walk

KNOCKS = ("close_tab", "knock_dead", "nothing")


def back_on(tablet: KnockedTablet, knock: str) -> None:
    """The tablet after a knock, at its list of carts."""
    if knock == "knock_dead":
        tablet.knock_dead()
        tablet.on()
    elif knock == "close_tab":
        tablet.close_tab()
    tablet.open()
    expect(tablet.page.get_by_role("heading", name="Carts today")).to_be_visible()


def answered(
    walk: Walk, tablet: KnockedTablet, dice: random.Random, *, is_knocked: bool = True
) -> dict[int, str]:
    """Every look answered, one found wrong with a photo, with a knock somewhere; gives what the page confirmed, by number."""
    plain = [
        item["check"] for item in walk.items if walk.reference["checks"][item["check"]]["answer"] == "sound"
    ]
    finding = Finding(dice.choice(plain), "watch", "Rattles", noisy_photo(dice))
    knock_after: int | None = dice.randrange(1, len(walk.items)) if is_knocked else None
    ledger: dict[int, str] = {}
    while True:
        was_found = finding.where
        n = walk.answer_next(finding)
        if n is None:
            return ledger
        ledger[n] = "wrong" if finding.where and not was_found else "good"
        if len(ledger) == knock_after:
            knock_after = None
            back_on(tablet, dice.choice(KNOCKS))
            walk.page = tablet.page
            walk.page.get_by_role("button", name="Carry on: ", exact=False).click()
            # One check back, with every answer that was confirmed.
            expect(walk.page.locator(".bar-title")).to_contain_text(f"{len(ledger)} of {len(walk.items)}")


def noisy_photo(dice: random.Random) -> bytes:
    """A picture that no compression makes small, so that it goes in more than one part."""
    out = io.BytesIO()
    Image.frombytes("L", (900, 700), dice.randbytes(900 * 700)).save(out, "JPEG", quality=95)
    return out.getvalue()


def sign_and_send(walk: Walk) -> None:
    walk.go_and_sign()
    walk.page.locator("#way-typed").click()
    walk.page.locator("#signed-name").fill("Wes Tonkin")
    walk.page.get_by_role("button", name="Sign and send", exact=True).click()
    expect(walk.page.locator("#page")).to_have_class("screen-sent")


def is_there_once(tablet: KnockedTablet, ledger: Mapping[int, str], before: Collection[str]) -> str:
    """The one record signed since `before` is with the yard as it was confirmed; gives its id."""
    (parcel,) = [one for one in tablet.parcels() if one["id"] not in before]
    sealed = json.loads(parcel["text"])
    assert {one["n"]: one["answer"] for one in sealed["answers"]} == ledger
    held = tablet.page.request.get(f"{tablet.address}/sync/held?id={parcel['id']}").json()["held"]
    assert held == {parcel["id"]: hashlib.sha256(parcel["text"].encode()).hexdigest()}
    return str(parcel["id"])
