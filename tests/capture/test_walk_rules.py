"""The rules of moving through a walk, without a page: order, stops, where a break lands, what a fault must have."""

from typing import Any

import pytest
from playwright.sync_api import Page

from tests.capture.standin_reference import CART_IDS, item, reference, sheet

pytestmark = pytest.mark.journey


def ruled(page: Page, body: str, items: list[dict[str, Any]] | None = None, **changes: Any) -> Any:
    """What a piece of script makes of a daily walk over `items` (the whole daily sheet when None)."""
    given = reference(**changes)
    if items is not None:
        for cart in given["carts"]:
            cart["sheets"]["daily"] = sheet(items, 1)
    script = f"""async ([reference, cart]) => {{
        const rules = await import("/static/capture/walk.js");
        const opened = {{ id: "w", cart, purpose: "daily", reference, at: "2026-11-25T00:00:00Z" }};
        const walk = rules.openWalk(opened);
        const answered = (...ns) => ns.reduce((so, n) => rules.withAnswer(so, n, {{ answer: "good" }}), walk);
        {body}
    }}"""
    return page.evaluate(script, [given, CART_IDS["WC 07"]])


def test_items_keep_the_sheets_order_and_are_numbered_from_one(modules: Page) -> None:
    keys = ["estop", "steps", "belts"]
    assert ruled(modules, "return walk.items.map((i) => [i.n, i.check])", [item(key) for key in keys]) == [
        [1, "estop"],
        [2, "steps"],
        [3, "belts"],
    ]


def test_a_place_that_comes_again_later_is_another_stop(modules: Page) -> None:
    sheet_items = [
        item(key) for key in ("steps", "handbook", "belts", "handbook", "seat_belt", "heads", "estop")
    ]
    said = ruled(
        modules,
        "return rules.stops(walk).map((s) => [s.number, s.station, s.pass, s.items.map((i) => i.n)])",
        sheet_items,
    )
    assert said == [
        [1, "cab", 1, [1, 2]],
        [2, "front", 1, [3]],
        [3, "cab", 1, [4]],
        [4, "cab", 2, [5]],
        [5, "rear", 4, [6]],
        [6, "cab", 4, [7]],
    ]


@pytest.mark.parametrize(
    ("answered", "after", "leads_to"),
    [
        pytest.param([1], 1, 2, id="to the next"),
        pytest.param([1, 2, 3], 1, 4, id="over what is answered already"),
        pytest.param([2], 2, 3, id="not back to what was left for later"),
        pytest.param([1, 2, 3, 4], 4, None, id="to the end of the list"),
        pytest.param([2, 3, 4], 4, None, id="to the end even with one left behind"),
    ],
)
def test_an_answer_leads_onward(modules: Page, answered: list[int], after: int, leads_to: int | None) -> None:
    items = [item(key) for key in ("steps", "handbook", "belts", "coolant")]
    assert ruled(modules, f"return rules.onward(answered(...{answered}), {after})", items) == leads_to


@pytest.mark.parametrize(("position", "lands"), [(1, 1), (2, 1), (7, 6), (20, 19)])
def test_a_break_lands_one_check_before(modules: Page, position: int, lands: int) -> None:
    assert ruled(modules, f"return rules.resumePoint({position})") == lands


def test_a_pass_is_new_until_it_has_been_opened(modules: Page) -> None:
    said = ruled(
        modules,
        """return [rules.passIsNew(walk, 1), rules.passIsNew({ ...walk, passes_seen: [1] }, 1),
                   rules.passIsNew({ ...walk, passes_seen: [1] }, 15)]""",
    )
    assert said == [True, False, True]


def test_a_station_is_done_when_each_of_its_checks_in_that_pass_is(modules: Page) -> None:
    items = [item(key) for key in ("steps", "handbook", "belts", "seat_belt")]
    assert ruled(
        modules, "return [rules.stationsDone(answered(1), 1), rules.stationsDone(answered(1, 2), 1)]", items
    ) == [
        [],
        ["cab"],
    ]


def test_an_answer_changes_a_copy_and_never_the_walk_itself(modules: Page) -> None:
    assert ruled(modules, "answered(1, 2); return rules.progress(walk)") == {"answered": 0, "total": 20}


@pytest.mark.parametrize(
    ("fault", "missing"),
    [
        pytest.param({"grade": None}, ["grade"], id="no grade"),
        pytest.param({"words": " "}, ["words"], id="no words"),
        pytest.param({"words": "", "told": True}, [], id="the entry says it"),
        pytest.param({"photos": []}, ["photo"], id="do not use without a photo"),
        pytest.param({"grade": "by_date", "photos": []}, ["photo"], id="by a date without a photo"),
        pytest.param({"grade": "watch", "photos": []}, [], id="watch needs none"),
        pytest.param({"photos": [], "no_camera": True}, [], id="no camera was said"),
        pytest.param({}, [], id="whole"),
        pytest.param({"grade": None, "photos": [], "words": ""}, ["grade", "words"], id="nothing at all"),
    ],
)
def test_a_fault_is_told_whole(modules: Page, fault: dict[str, Any], missing: list[str]) -> None:
    whole = {"grade": "do_not_use", "photos": ["a"], "no_camera": False, "words": "cracked", "told": False}
    said = modules.evaluate(
        """async (fault) => {
            const { faultGaps } = await import("/static/capture/walk.js");
            return faultGaps(fault).map((gap) => gap.field);
        }""",
        whole | fault,
    )
    assert said == missing


@pytest.mark.parametrize(
    ("answers", "comes_to"),
    [
        pytest.param({}, "ready", id="all good"),
        pytest.param({2: {"answer": "wrong", "grade": "watch"}}, "ready", id="watch alone"),
        pytest.param({2: {"answer": "wrong", "grade": "by_date"}}, "conditions", id="by a date"),
        pytest.param(
            {1: {"answer": "wrong", "grade": "by_date"}, 2: {"answer": "wrong", "grade": "do_not_use"}},
            "held",
            id="do not use beats by a date",
        ),
        pytest.param({2: {"answer": "could_not_check"}}, "ready", id="a look that is not required"),
        pytest.param({3: {"answer": "could_not_check"}}, "held", id="a required look not done"),
        pytest.param({3: {"answer": "not_on_cart"}}, "ready", id="not on this cart"),
    ],
)
def test_the_tablets_own_advice_follows_the_worst_answer(
    modules: Page, answers: dict[int, dict[str, str]], comes_to: str
) -> None:
    items = [item(key) for key in ("steps", "handbook", "nuts_front")]
    script = f"""const all = {{ 1: {{answer: "good"}}, 2: {{answer: "good"}}, 3: {{answer: "good"}}, ...{answers} }};
                 return rules.ownOutcome({{ ...walk, answers: all }})"""
    assert ruled(modules, script, items) == comes_to


def test_carts_leave_first_and_then_count_as_people_do(modules: Page) -> None:
    carts = [
        {"fleet_number": number, "leaves_at": leaves_at}
        for number, leaves_at in (
            ("WC 12", None),
            ("WC 3", None),
            ("WC 7", "2026-11-26T00:00:00Z"),
            ("WC 9", "2026-11-25T10:00:00+10:30"),
            ("WC 8", "2026-11-25T00:00:00Z"),
        )
    ]
    said = modules.evaluate(
        """async (carts) => {
            const { leavingFirst } = await import("/static/capture/walk.js");
            return leavingFirst(carts).map((cart) => cart.fleet_number);
        }""",
        carts,
    )
    assert said == ["WC 9", "WC 8", "WC 7", "WC 3", "WC 12"]


def test_only_grades_as_bad_as_the_limits_or_worse_are_left_to_choose(modules: Page) -> None:
    said = ruled(
        modules,
        """return ["watch", "by_date", "do_not_use"].map((least) =>
                    rules.gradesFrom(reference.grades, least).map((grade) => grade.key))""",
    )
    assert said == [["do_not_use", "by_date", "watch"], ["do_not_use", "by_date"], ["do_not_use"]]
