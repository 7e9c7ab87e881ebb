"""A call answered and booked while talking: found, pencilled, promised, its rate agreed; a quote written and promised; and a
docket checked to the cent."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from people.yard import yard_day
from tests.inspections.certificate_files import pages_of
from tests.journeys.visitor import Visitor

pytestmark = pytest.mark.journey

# Far enough ahead that no other journey's hire is in the way.
ASKED_IN_DAYS = 40


def test_a_call_is_answered_and_booked_while_talking(visit: Callable[..., Visitor]) -> None:
    dot = visit("dot")
    dot.follow("Hire")
    dot.follow("Find a cart for a caller")
    dot.finds_nothing_wrong()
    number = ask(dot)
    pencil(dot, number)
    promise(dot, number)
    agree_the_rate(dot, number)


def ask(dot: Visitor, priced: str = "7 days, before tax") -> str:
    """Twelve thousand litres or near for a week: the first cart that suits, with what it costs."""
    leaves = yard_day(timezone.now()) + timedelta(days=ASKED_IN_DAYS)
    dot.page.get_by_label("Litres, at least").fill("12000")
    dot.page.get_by_label("Leaves", exact=True).fill(f"{leaves}T06:00")
    dot.page.get_by_label("Expected back").fill(f"{leaves + timedelta(days=6)}T16:00")
    dot.page.get_by_label("Place of work").fill("Saltbush Road widening")
    dot.press("Show the carts")
    dot.sees("Suits, and is free")
    dot.sees(priced)
    dot.finds_nothing_wrong()
    return dot.page.locator(".offer h3").first.inner_text()


def pencil(dot: Visitor, number: str) -> None:
    dot.follow(f"Pencil {number}")
    dot.page.get_by_label("Who asks").fill("Wren Aldous, Saltbush Road")
    dot.page.get_by_label("Phone").fill("08 5550 0188")
    dot.finds_nothing_wrong()
    dot.press(f"Pencil {number} for a caller")
    dot.sees(f"{number} is pencilled for Wren Aldous, Saltbush Road.")
    dot.finds_nothing_wrong()


def promise(dot: Visitor, number: str) -> None:
    dot.follow(f"Promise {number} to Wren Aldous, Saltbush Road")
    dot.page.get_by_label("Customer").select_option(index=1)
    dot.page.get_by_label("Place of work").fill("Saltbush Road widening")
    dot.press("Make a hire agreement")
    dot.sees(f"{number} is promised on H")
    dot.finds_nothing_wrong()
    dot.follow("Hire")
    dot.sees_not("Wren Aldous")
    dot.follow("Grid of hires")
    dot.finds_nothing_wrong()
    dot.page.go_back()
    dot.page.go_back()


def agree_the_rate(dot: Visitor, number: str) -> None:
    dot.follow("Charges")
    dot.sees("No rate is agreed for this hire.")
    dot.finds_nothing_wrong()
    dot.follow("Agree the rate")
    with dot.refused_with(422):
        dot.press(f"Agree the rate for {number}")
        dot.sees("Rate rule")
    dot.page.get_by_label("Rate rule").select_option("as agreed")
    dot.finds_nothing_wrong()
    dot.press(f"Agree the rate for {number}")
    dot.sees(f"The rate for {number} is written down.")


def test_a_caller_is_quoted_and_promised_as_quoted(visit: Callable[..., Visitor], tmp_path: Path) -> None:
    """Day and night, dry: the rule is chosen for the quote, and the hire made of it begins with its terms."""
    dot = visit("dot")
    dot.open("/hire/find/")
    dot.page.get_by_label("Works by").select_option("both")
    number = ask(dot, "7 days of 2 shifts, before tax")
    dot.follow(f"Write the quote for {number}")
    dot.page.get_by_label("For whom").fill("Wren Aldous")
    dot.page.get_by_label("Delivery", exact=False).first.fill("380")
    with dot.refused_with(422):
        dot.page.get_by_role("button", name="Write the quote").first.click()
        dot.sees("Rate rule: Choose it with the customer")
    dot.page.get_by_label("Rate rule").select_option("as agreed")
    dot.finds_nothing_wrong()
    dot.page.get_by_role("button", name="Write the quote").first.click()
    dot.sees("is written; its file follows in a moment.")
    dot.finds_nothing_wrong()
    quote = dot.page.locator(".paper-number").inner_text()
    dot.awaits(dot.page.url, lambda: dot.page.get_by_role("link", name="Save the PDF").count() > 0)
    with dot.page.expect_download() as saved:
        dot.follow("Save the PDF")
    saved.value.save_as(tmp_path / "quote.pdf")
    words = " ".join(" ".join(pages_of((tmp_path / "quote.pdf").read_bytes())).split())
    for said in (
        quote,
        "Days in a week",
        "Days in a month",
        "Hours included",
        "Hours pooled",
        "Meter",
        "for 2 shifts a day",
    ):
        assert said in words
    dot.follow("Promise it as quoted")
    dot.sees(f"As quoted in {quote}")
    dot.page.get_by_label("Customer").select_option(index=1)
    dot.press("Make a hire agreement")
    dot.sees(f"{number} is promised on H")
    dot.sees(f"As quoted: {quote}")
    dot.follow("Charges")
    dot.sees("As agreed: the longest length that fits the stay sets the rate")
    dot.sees(f"As quoted, {quote}")
    dot.finds_nothing_wrong()


def test_a_docket_is_made_and_checked_to_the_cent(visit: Callable[..., Visitor], tmp_path: Path) -> None:
    """The demo's cart over 17,000 L: 430.00 a day, 2,150.00 a week; three days were charged before, and 43.00 a day waiver."""
    dot = visit("dot")
    dot.open("/hire/")
    dot.page.get_by_role("row").filter(has_text="WC-05").get_by_role("link").first.click()
    dot.follow("Charges")
    dot.sees("Hire, ")
    dot.finds_nothing_wrong()
    dot.page.get_by_label("Up to and with").fill("")
    dot.press("Make the docket")
    dot.sees("Hire docket D")
    total = dot.page.locator(".charge-sum td").inner_text()
    dot.sees("2 days: 2 × 430.00")
    assert total == "1,040.60"
    dot.finds_nothing_wrong()
    here = dot.page.url
    dot.awaits(here, lambda: dot.page.get_by_role("link", name="Save the PDF").count() > 0)
    with dot.page.expect_download() as saved:
        dot.follow("Save the PDF")
    saved.value.save_as(tmp_path / "docket.pdf")
    [page] = pages_of((tmp_path / "docket.pdf").read_bytes())
    assert "1,040.60" in page
    assert "2 days: 2 × 430.00" in page
    dot.follow("Back to the charges")
    dot.sees("Nothing new up to")
    expect(dot.page.get_by_role("button", name="Make the docket")).to_have_count(0)
