"""The workshop's queue by keyboard, several rows at once, and the fitter's job sheet, in a real browser."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.journeys.visitor import Visitor

pytestmark = pytest.mark.journey
HELD = "() => [...document.querySelectorAll('[data-row]')].indexOf(document.activeElement)"


def test_the_queue_is_walked_ticked_and_opened_by_keys_which_leave_typing_alone(
    visit: Callable[..., Visitor],
) -> None:
    bruna = visit("bruna")
    bruna.open("/workshop/")
    bruna.sees("Keys: j and k")
    bruna.finds_nothing_wrong()
    keys, page = bruna.page.keyboard, bruna.page

    for key, row in (("j", 0), ("j", 1), ("ArrowDown", 2), ("k", 1), ("ArrowUp", 0), ("k", 0)):
        keys.press(key)
        assert page.evaluate(HELD) == row, key
    keys.press("x")
    expect(page.locator("[data-row] input[type=checkbox]").first).to_be_checked()
    # From the tick itself Space unticks, as ever, and the letters go on from its row.
    page.locator("[data-row] input[type=checkbox]").first.focus()
    keys.press("j")
    assert page.evaluate(HELD) == 1
    keys.press("Control+j")
    assert page.evaluate(HELD) == 1
    keys.press("/")
    expect(page.get_by_label("Cart", exact=True)).to_be_focused()
    keys.type("jxk/")
    expect(page.get_by_label("Cart", exact=True)).to_have_value("jxk/")
    page.locator("[data-row]").nth(1).focus()
    title = page.locator("[data-row] [data-row-link]").nth(1).inner_text()
    keys.press("Enter")
    expect(page.locator("h1")).to_contain_text(title)
    bruna.finds_nothing_wrong()


def test_ticked_rows_come_back_with_what_was_refused(visit: Callable[..., Visitor]) -> None:
    bruna = visit("bruna")
    bruna.open("/workshop/?grade=do_not_use")
    bruna.page.locator("[data-row] input[type=checkbox]").first.check()
    bruna.page.get_by_label("Until").fill("2099-01-01")
    bruna.page.get_by_label("Because").fill("Nobody is here to do it.")
    with bruna.refused_with(422):
        bruna.press("Put them off")
        bruna.sees("Done for 0 of 1 defect.")
    bruna.sees("which is never put off")
    expect(bruna.page.get_by_label("Because")).to_have_value("Nobody is here to do it.")
    bruna.finds_nothing_wrong()


def test_a_fitter_finds_the_job_sheet_easy_to_press(visit: Callable[..., Visitor]) -> None:
    teo = visit("teo", "tablet upright")
    teo.open("/workshop/?state=in_repair&mine=on")
    teo.page.locator("[data-row] [data-row-link]").first.click()
    teo.follow("Open the job sheet")
    teo.sees("Time on the job")
    teo.finds_nothing_wrong()
    presses = teo.page.locator(
        ".job-press .button, .job summary, .job-press input:not([type=hidden]):visible"
    )
    assert presses.count() > 3
    for number in range(presses.count()):
        box = presses.nth(number).bounding_box()
        assert box is None or box["height"] >= 63.5, presses.nth(number).inner_text()
