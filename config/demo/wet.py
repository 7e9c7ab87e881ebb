"""The demo yard's operators, their tickets, its wet hires, and the daily dockets of the one that is out."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from functools import partial

from config.demo.story import Script, World
from hire.actions import daily, operators, wet
from hire.licences import licence_needed
from hire.models.agreements import Line
from hire.models.operators import Operator
from people.yard import yard_day, yard_policy

# The cart that works with an operator, and the one that is promised with one whose licence lapses while it is out.
OUT, AHEAD = "WC-01", "WC-25"
WET = {"wet_minimum_hours": 8, "wet_travel_price": 95, "wet_overtime_after": 8, "wet_overtime": "1.5",
       "wet_night": "1.25", "wet_sunday": 2, "wet_holiday": "2.5"}  # fmt: skip
# Day of the story, start and finish in quarter hours past midnight, loads, why nobody signed.
DAYS = (
    (-6, 26, 62, 8, ""),
    (-5, 24, 67, 11, ""),
    (-4, 24, 56, 9, "Site office shut at two, Jo signs on Monday"),
    (-2, 24, 64, 10, ""),
)


def book(world: World) -> None:
    """One of the yard's people and two from outside, with what they hold."""
    at, by, today = world.when(-27, 9), world.people["dot"], world.today
    kit = operators.add_operator(
        name="Kit Moran", firm="Moran Plant Operators", phone="08 5550 0181", by=by, at=at
    )
    ola = operators.add_operator(
        name="Ola Brandt", firm="Dry Creek Labour", phone="08 5550 0182", by=by, at=at
    )
    wes = operators.add_operator(staff=world.people["wes"], by=by, at=at)
    rule_set = yard_policy().rule_set
    two, three = (
        licence_needed(rule_set=rule_set, gross_kg=kg, axles=axles)
        for kg, axles in ((16_500, 2), (24_500, 3))
    )
    for operator, code, number, left in ((kit, three, "044 118 207", 700), (ola, two, "051 330 912", 400), (wes, three, "038 771 460", 8)):  # fmt: skip
        operators.record_ticket(
            operator=operator, kind="licence", licence_class=code, number=number, ends_on=today + timedelta(days=left), by=by, at=at
        )  # fmt: skip
    for operator, customer, site, left in (
        (kit, 0, "Callabar pit", 120),
        (kit, 5, "", 21),
        (wes, 1, "", 200),
    ):
        operators.record_ticket(
            operator=operator, kind="induction", customer=world.customers[customer], site=site, number=f"IN-{left + 400}",
            ends_on=today + timedelta(days=left), by=by, at=at,
        )  # fmt: skip
    operators.record_ticket(
        operator=kit,
        kind="medical",
        words="Drivers, yearly",
        ends_on=today + timedelta(days=25),
        by=by,
        at=at,
    )


def go_wet(world: World, line: Line, cart: str, at: datetime) -> None:
    """Said when the cart is promised."""
    if cart not in (OUT, AHEAD):
        return
    by = world.people["dot"]
    wet.set_wet(line=line, wants=["induction"], by=by, at=at)
    who = Operator.objects.get(name="Kit Moran") if cart == OUT else world.people["wes"].operator
    wet.put_operator(
        line=line, operator=who, starts_at=line.promised.lower, ends_at=line.promised.upper, by=by, at=at
    )


def _docket(world: World, n: int, at: datetime) -> None:
    day, start, finish, loads, nobody = DAYS[n]
    begins, line = world.when(day, 0), world.lines[OUT]
    stood = n == 1
    daily.make_daily(
        line=line,
        operator=line.turns.get().operator,
        day=daily.Day(
            on=yard_day(begins), starts_at=begins + timedelta(minutes=15 * start), finishes_at=begins + timedelta(minutes=15 * finish),
            breaks=timedelta(minutes=30), travel_hours=Decimal("1.0"), loads=loads, water_words="Callabar dam, north standpipe",
            water_source="dam",
            fuel_l=Decimal(60 + 10 * n), standby_hours=Decimal("1.5") if stood else Decimal(0),
            standby_why="Grader broken down" if stood else "",
        ),
        signed=daily.Signed(nobody_why=nobody) if nobody else daily.Signed("Jo Renfrew"),
        by=world.people["dot"],
        at=at,
    )  # fmt: skip


def dockets(world: World, script: Script) -> None:
    """As the days end; the last was written down on the morning after, and one day has none."""
    for n, (day, _, finish, _, _) in enumerate(DAYS):
        late = timedelta(hours=15) if n == len(DAYS) - 1 else timedelta(minutes=20)
        script.at(world.when(day, 0) + timedelta(minutes=15 * finish) + late, partial(_docket, world, n))
