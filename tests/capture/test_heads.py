"""A flow and evenness test on the tablet: caught with no signal, kept at every entry, sent once, refused and mended."""

import hashlib
import json
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from inspections.heads_record import read_heads_record
from tests.capture.standin import Yard, problem
from tests.capture.standin_reference import CART_IDS, HEAD_NAMES, spray
from tests.capture.tablet import Tablet

pytestmark = pytest.mark.journey

TEST = "Flow and evenness test"
REFUSAL = "Seconds of Side right: 99999 was entered. It takes at most 9,999.9, in steps of 0.1."


def begin(tablet: Tablet, pressure: str = "200") -> None:
    """From nothing to the litres of the first head."""
    tablet.open(f"#cart={CART_IDS['WC 07']}")
    tablet.tap(TEST, exact=False)
    tablet.see("Park, brake and chock.")
    tablet.tap("Start: the pressure")
    tablet.at("Pressure at the heads")
    tablet.measure(pressure, "kPa")
    tablet.at("Litres caught")


def catch(tablet: Tablet, litres: str, seconds: str) -> None:
    tablet.at("Litres caught")
    tablet.measure(litres, "L")
    tablet.at("Seconds it ran")
    tablet.measure(seconds, "s")


def catch_all(tablet: Tablet, *litres: str) -> None:
    """Catches the heads in their order, the seconds of the first for each."""
    for n, (name, one) in enumerate(zip(HEAD_NAMES, litres, strict=True), start=1):
        tablet.at(f"{name}, {n} of 4")
        if n == 1:
            catch(tablet, one, "15")
            continue
        tablet.measure(one, "L")
        tablet.tap("15 s, as before")
    tablet.at("Check your figures")


def whole(tablet: Tablet) -> None:
    begin(tablet)
    catch_all(tablet, "40", "40", "40", "32")


def test_it_is_caught_signed_and_judged(tablet: Tablet, yard: Yard) -> None:
    whole(tablet)
    tablet.see("Christiansen 92.1 %, low quarter 84.2 %.")
    tablet.see("fan, 60 mm: Clean and measure again: Side right.")
    tablet.see("32 L in 15 s. 128.0 L/min, 160.0 when new, -20 %. Clean it and measure again.")
    # Put right, and left before its seconds: what was saved is what stands.
    for rest in ("3", "2"):
        tablet.page.get_by_role("link", name="Side right").click()
        tablet.at("Litres caught")
        tablet.tap("Rub out the last figure")
        tablet.enter(rest)
        tablet.tap(f"Save 3{rest} L")
        tablet.at("Seconds it ran")
        tablet.tap("All heads")
        tablet.see(f"3{rest} L in 15 s.")
    tablet.page.get_by_label("Anything to add").fill("Wind from the side.")
    tablet.sign()
    tablet.at("Heads to see to")
    tablet.see("The workshop is told.")
    [path] = yard.puts
    record = yard.record()
    # The yard's own reader takes what the page makes.
    assert hashlib.sha256(next(iter(yard.records.values()))).hexdigest() == read_heads_record(record).sha256
    assert path == f"/sync/heads-test/{record['id']}"
    heads = spray()
    assert (record["kind"], record["cart"], record["sheet"]) == (
        "heads_test",
        CART_IDS["WC 07"],
        heads["sheet"],
    )
    assert (record["pressure_kpa"], record["words"]) == ("200", "Wind from the side.")
    caught = [(one["head"], one["litres"], one["seconds"]) for one in record["catches"]]
    assert caught == [
        (head["id"], litres, "15")
        for head, litres in zip(heads["heads"], ("40", "40", "40", "32"), strict=True)
    ]
    assert record["signature"]["statement"] == yard.reference["purposes"]["heads_test"]["statement"]
    tablet.tap("Next cart")
    tablet.see("The yard has everything signed on this tablet.")


def test_with_no_signal_it_is_kept_over_a_reload_at_every_entry_and_sent_once(
    tablet: Tablet, yard: Yard
) -> None:
    tablet.open()
    tablet.see("List from the yard")
    yard.cut = True
    begin(tablet)
    tablet.measure("40.25", "L")
    tablet.at("Seconds it ran")
    tablet.page.reload()
    tablet.at("Seconds it ran")
    tablet.see("Rear left gave 40.25 L.")
    tablet.tap("Litres")
    expect(tablet.page.locator("#value")).to_have_value("40.25")
    tablet.tap("Save 40.25 L")
    tablet.measure("15", "s")
    for name in HEAD_NAMES[1:3]:
        tablet.see(name)
        catch(tablet, "41", "15")
    tablet.at("Side right, 4 of 4")
    tablet.open()
    tablet.see("1 evenness test begun.")
    tablet.open(f"#cart={CART_IDS['WC 07']}")
    tablet.tap("Carry on: 4 of 5 answered", exact=False)
    # One back, to be looked at again.
    tablet.see("Side left")
    tablet.tap("Next")
    tablet.at("Side right, 4 of 4")
    tablet.tap("Leave this head out")
    tablet.at("Check your figures")
    tablet.see("3 heads caught, 1 left out.")
    tablet.sign()
    tablet.at("Not sent yet")
    tablet.see("By the figures on this tablet. The yard has the last word.")
    tablet.page.reload()
    tablet.see("Every head is within 10 % of its flow when new.")
    tablet.see("No signal")
    yard.cut = False
    tablet.tap("Send now")
    tablet.at("Heads to see to")
    assert len(yard.puts) == 1
    assert [(one["name"], one["litres"]) for one in yard.record()["catches"]] == [
        ("Rear left", "40.25"), ("Rear right", "41"), ("Side left", "41"),
    ]  # fmt: skip


def test_an_answer_that_is_lost_brings_the_same_record_again(tablet: Tablet, yard: Yard) -> None:
    whole(tablet)
    taken: list[bytes] = []

    def lost_once(path: str, body: bytes, token: str) -> tuple[int, str, str]:
        taken.append(body)
        answer = Yard.take(yard, path, body, token)
        return problem(500, "No.") if len(taken) == 1 else answer

    yard.take = lost_once  # type: ignore[method-assign]
    tablet.sign()
    tablet.at("Not sent yet")
    tablet.tap("Send now")
    tablet.at("Heads to see to")
    assert taken[0] == taken[1]
    assert len(yard.records) == 1


def test_a_figure_is_put_right_before_it_is_signed(tablet: Tablet, yard: Yard) -> None:
    begin(tablet)
    tablet.tap("Save value")
    tablet.see("Enter the value first.")
    tablet.enter("40.255")
    expect(tablet.page.locator("#value")).to_have_value("40.25")
    tablet.tap("Save 40.25 L")
    tablet.at("Seconds it ran")
    tablet.enter("0")
    tablet.tap("Save 0 s")
    tablet.see("The time has to be above zero.")
    tablet.tap("All heads")
    tablet.tap("These are right: go and sign")
    tablet.see("No figure yet of: Rear left, Rear right, Side left, Side right.")
    tablet.page.get_by_role("link", name="Rear left").click()
    tablet.at("Litres caught")
    for _ in "40.25":
        tablet.tap("Rub out the last figure")
    catch_all(tablet, "0", "0", "0", "0")
    tablet.tap("These are right: go and sign")
    tablet.see("No head gave any water.")
    tablet.page.get_by_role("link", name="Rear left").click()
    tablet.measure("40", "L")
    tablet.tap("Save 15 s")
    tablet.at("Check your figures")
    tablet.sign()
    tablet.at("Heads to see to")
    assert [one["litres"] for one in yard.record()["catches"]] == ["40", "0", "0", "0"]


def test_what_the_yard_refuses_is_mended_and_nothing_is_lost(tablet: Tablet, yard: Yard) -> None:
    whole(tablet)
    tablet.page.get_by_label("Anything to add").fill("Wind from the side.")
    yard.faults = [problem(422, REFUSAL)]
    tablet.sign()
    tablet.at("The yard refused it")
    tablet.see(REFUSAL)
    tablet.see("None of its figures is lost.")
    # By now the yard has other heads on record, of the same names but one.
    others = spray(3, nozzle="fan, 45 mm")
    others["heads"][0]["name"] = "Rear middle"
    yard.reference["carts"][2]["spray"] = others
    tablet.tap("Take it up again")
    tablet.at("Check your figures")
    tablet.see(REFUSAL)
    expect(tablet.page.get_by_label("Anything to add")).to_have_value("Wind from the side.")
    tablet.page.reload()
    tablet.see("3 heads caught.")
    tablet.page.get_by_role("link", name="Rear middle").click()
    catch(tablet, "39", "15")
    tablet.at("Check your figures")
    tablet.sign()
    tablet.at("Heads to see to")
    first, second = yard.puts
    assert first != second
    record = yard.record()
    assert record["sheet"] == others["sheet"]
    assert [(one["head"], one["litres"]) for one in record["catches"]] == [
        (head["id"], litres) for head, litres in zip(others["heads"], ("39", "40", "40", "32"), strict=True)
    ]
    tablet.tap("Next cart")
    tablet.see("The yard has everything signed on this tablet.")


def test_a_refusal_waits_over_a_reload_with_no_signal(tablet: Tablet, yard: Yard) -> None:
    whole(tablet)
    yard.faults = [problem(422, REFUSAL)]
    tablet.sign()
    tablet.at("The yard refused it")
    yard.cut = True
    tablet.page.reload()
    tablet.at("The yard refused it")
    tablet.tap("Take it up again")
    tablet.at("Check your figures")
    tablet.see("4 heads caught.")
    assert not yard.records


def test_a_cart_without_heads_on_record_offers_none(tablet: Tablet, yard: Yard) -> None:
    del yard.reference["carts"][1]["spray"]
    for number in ("WC 3", "WC 12"):
        tablet.open(f"#cart={CART_IDS[number]}")
        tablet.see("What are you doing?")
        expect(tablet.button(TEST, exact=False)).to_have_count(0)


def test_what_was_signed_under_another_page_takes_no_more_figures(
    tablet: Tablet, yard: Yard, page: Page
) -> None:
    whole(tablet)
    other = Tablet(page.context.new_page(), tablet.address)
    walk = json.loads(
        tablet.run("JSON.stringify(Object.fromEntries(new URLSearchParams(location.hash.slice(1))))")
    )
    other.open(f"#walk={walk['walk']}&at=2&from=review")
    other.at("Litres caught")
    tablet.sign()
    tablet.at("Heads to see to")
    before: Any = yard.record()
    other.tap("Save 40 L")
    other.see("Not kept")
    assert yard.record() == before
