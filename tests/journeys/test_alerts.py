"""What the watch raises: counted and listed by role, taken by one person, and cleared by nothing but its cause."""

import os
from collections.abc import Callable

import pytest
from celery import Celery
from django.conf import settings
from playwright.sync_api import Locator, expect

from tests.journeys.visitor import Visitor
from tests.journeys.walk import Walk

pytestmark = pytest.mark.journey

# The demo's cart on hire that nobody walked round yesterday or today.
CART = "WC-07"
METERS = {"engine-hours": "4860.5", "pump-hours": "2370", "odometer": "84000"}
PRE_START = f"{CART} has no pre-start for "
SERVICE = "service of extinguisher"


def test_a_lapsed_pre_start_is_taken_and_clears_once_the_cart_is_walked(
    visit: Callable[..., Visitor],
) -> None:
    noor, dot = visit("noor"), visit("dot", "tablet")
    noor.awaits("/alerts/", lambda: asks(noor).count() > 0)
    # The first page shows the worst few of them.
    noor.open("/")
    expect(notices(noor)).not_to_have_count(0)
    noor.finds_nothing_wrong()
    noor.page.get_by_role("navigation", name="Main").get_by_role("link", name="Alerts").click()
    the_count_is_the_lists(noor)
    noor.sees(SERVICE)
    noor.finds_nothing_wrong()
    take(noor)
    each_role_sees_its_own(visit, dot)
    walk_it(visit("wes", "tablet upright"))
    sweep_comes_round()
    dot.awaits("/alerts/", lambda: asks(dot).count() == 0)
    the_count_is_the_lists(dot)
    dot.finds_nothing_wrong()
    noor.open("/alerts/")
    expect(asks(noor)).to_have_count(0)
    noor.sees(SERVICE)
    the_count_is_the_lists(noor)


def test_a_page_left_open_keeps_up_and_a_hidden_one_asks_nothing(visit: Callable[..., Visitor]) -> None:
    noor, bruna = visit("noor"), visit("bruna", "tablet")
    noor.page.clock.install()
    noor.awaits("/alerts/", lambda: notices(noor).filter(has_text=SERVICE).count() > 0)
    group = noor.page.locator("details", has_text="Extinguishers")
    group.locator("summary").click()
    expect(group).not_to_have_attribute("open", "")
    asked: list[str] = []
    noor.page.on("request", lambda request: asked.append(request.url.split("?")[0]))

    bruna.open("/alerts/")
    row = notices(bruna).filter(has_text=SERVICE).last
    what = row.locator(".notice-what").inner_text()
    row.get_by_role("button", name="I’ve got it").click()
    bruna.sees("Yours: ")
    hide(noor, hidden=True)
    noor.page.clock.run_for(200_000)
    assert asked == []
    hide(noor, hidden=False)

    expect(notices(noor).filter(has_text=what)).to_contain_text("Bruna Kitto has it")
    expect(group).not_to_have_attribute("open", "")
    noor.finds_nothing_wrong()
    asked.clear()
    noor.page.clock.run_for(66_000)
    noor.page.wait_for_timeout(1_000)
    assert sorted(asked) == [f"{noor.address}/alerts/count/", f"{noor.address}/alerts/live/"]

    # Signed out elsewhere, the page stays as it is instead of swallowing the sign-in page.
    other = noor.context.new_page()
    other.goto(f"{noor.address}/alerts/")
    other.get_by_role("button", name="Sign out").click()
    expect(other).to_have_url(f"{noor.address}/sign-in/")
    noor.page.clock.run_for(66_000)
    noor.page.wait_for_timeout(1_000)
    expect(notices(noor).filter(has_text=what)).to_have_count(1)
    expect(noor.page.get_by_label("Password")).to_have_count(0)


def hide(visitor: Visitor, *, hidden: bool) -> None:
    """The page as if another tab stood before it, or no longer."""
    visitor.page.evaluate(
        """(hidden) => {
          Object.defineProperty(document, "hidden", { value: hidden, configurable: true });
          document.dispatchEvent(new Event("visibilitychange"));
        }""",
        hidden,
    )


def asks(visitor: Visitor) -> Locator:
    """The cart's alert in a list."""
    return notices(visitor).filter(has_text=PRE_START)


def notices(visitor: Visitor) -> Locator:
    return visitor.page.locator("main .notice-list > li")


def the_count_is_the_lists(visitor: Visitor) -> None:
    """The navigation says how many alerts the list beside it has; it says nothing when there is none."""
    link = visitor.page.get_by_role("navigation", name="Main").get_by_role("link", name="Alerts")
    expect(link).to_have_attribute("aria-current", "page")
    visitor.page.wait_for_load_state()
    # A group shows the first of many; its heading says how many there are.
    heads = visitor.page.locator(".alert-group-count").all_inner_texts()
    count = sum(int(head.split()[0].rstrip(":")) for head in heads) if heads else notices(visitor).count()
    expect(link).to_have_text(f"Alerts {count} open" if count else "Alerts")


def take(noor: Visitor) -> None:
    asks(noor).get_by_role("button", name="I’ve got it").click()
    noor.sees(f"Yours: {PRE_START}")
    expect(asks(noor)).to_contain_text("Noor Halloran has it")
    expect(asks(noor).get_by_role("button")).to_have_count(0)
    noor.finds_nothing_wrong()


def each_role_sees_its_own(visit: Callable[..., Visitor], dot: Visitor) -> None:
    """The hire desk rings the customer and sees who does; the workshop sees what it can mend; a yard hand nothing."""
    dot.open("/alerts/")
    expect(asks(dot)).to_contain_text("Noor Halloran has it")
    expect(notices(dot).filter(has_text=SERVICE)).to_have_count(0)
    the_count_is_the_lists(dot)
    dot.finds_nothing_wrong()
    bruna = visit("bruna", "tablet")
    bruna.open("/alerts/")
    expect(notices(bruna).filter(has_text=SERVICE)).not_to_have_count(0)
    expect(asks(bruna)).to_have_count(0)
    the_count_is_the_lists(bruna)
    bruna.finds_nothing_wrong()


def walk_it(wes: Visitor) -> None:
    wes.open("/alerts/")
    wes.sees("Nothing asks for you now.")
    the_count_is_the_lists(wes)
    wes.finds_nothing_wrong()
    walk = Walk(wes, CART, METERS)
    wes.open(f"/check/#cart={walk.cart['id']}")
    walk.begin("daily")
    assert 26 <= walk.answer_all() <= 34
    walk.sign_by_typing("Wes Tonkin")
    wes.sees("The yard received it")


def sweep_comes_round() -> None:
    """Leaves the demo's worker the message that its schedule leaves every few minutes; nothing else of the sweep is done here."""
    broker = Celery(broker=os.environ["SLAKE_REDIS_URL"], set_as_current=False)
    with broker:
        broker.send_task(settings.CELERY_BEAT_SCHEDULE["alerts"]["task"])
