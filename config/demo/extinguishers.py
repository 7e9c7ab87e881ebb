"""The extinguishers of the demo yard, each with the services its rule set asks for: one cart's is past, two are near."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from functools import partial

from config.demo.story import Script, World
from fleet.actions.equipment import ExtinguisherDetails, place_extinguisher, record_extinguisher_service
from fleet.models.carts import Cart
from people.yard import yard_day, yard_policy
from servicing.extinguishers import counts_for

AGENT = "dry_chemical"
# Days until its service falls due; of the rest it has time.
LEFT = {"WC-03": -4, "WC-12": 5, "WC-22": 18}
FIRM = "Emberline Fire Service"


def stamped(regime: str, *, left: int, today: date) -> tuple[str, date]:
    """The kind of service on a tag, and its day, so that the next one falls due so many days from today."""
    services = [one for one in counts_for(regime=regime, agent=AGENT) if 1 < one.months <= 12]
    return services[-1].kind, today - timedelta(days=365 * services[0].months // 12 - left)


def looks(regime: str) -> Iterator[str]:
    """What a rule set asks for every month."""
    return (one.kind for one in counts_for(regime=regime, agent=AGENT) if one.months == 1)


def extinguisher(world: World, cart: Cart, n: int, at: datetime) -> None:
    made_on = date(world.today.year - 2 - n % 3, 1 + n % 12, 1)
    place_extinguisher(
        cart=cart,
        details=ExtinguisherDetails(f"EX{4400 + n}", made_on, AGENT),
        bracket="Behind the cab, left",
        by=world.people["bruna"],
        at=at,
    )
    left = LEFT.get(cart.fleet_number, 60 + n * 4)
    kind, on = stamped(yard_policy().rule_set, left=left, today=world.today)
    _record(world, cart, kind, FIRM, on, at)
    _look(world, cart, at)


def _record(world: World, cart: Cart, kind: str, by_words: str, on: date, at: datetime) -> None:
    record_extinguisher_service(
        extinguisher=cart.extinguishers.get(), kind=kind, on=min(on, yard_day(at)), by_words=by_words,
        by=world.people["bruna"], at=at,
    )  # fmt: skip


def _look(world: World, cart: Cart, at: datetime) -> None:
    for kind in looks(yard_policy().rule_set):
        _record(world, cart, kind, "Teo Marsden", yard_day(at), at)


def looked_at(world: World, script: Script) -> None:
    """The monthly look, where there is one, before the first month is over."""
    for n, cart in enumerate(world.carts.values()):
        script.at(world.when(-12, 6, n), partial(_look, world, cart))
