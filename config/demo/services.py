"""What comes round in the demo yard, and when it was last done: most carts in hand, some near, one past its tolerance."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import ROUND_DOWN, Decimal
from functools import partial

from config.demo.story import Script, World
from fleet.models.carts import Cart
from servicing.models.plans import ServicePlan
from servicing.odometer import odometers
from servicing.service_actions import PlanDetails, add_plan, book_visit, record_service

GREASE = "Spring pins and shackles\nSteering kingpins and drag link\nPump shaft joints, guard back on\nTurntable of the cannon"
OIL = "Engine oil and filter\nFuel filters\nCoolant level and strength\nBelts\nPump gland and drip"
WHOLE = "All of the 250-hour service\nGearbox and axle oils, level and look\nWheel bearings, play\nTank hold-downs and feet"
BRAKES = "Lining thickness at every wheel\nPush-rod stroke\nDrums and hoses\nWheel nuts to the maker’s figure, wrench number written down"


def plans(world: World, at: datetime) -> dict[str, ServicePlan]:
    bruna = world.people["bruna"]
    grease = add_plan(
        details=PlanDetails("Grease round", 60, None, 1, tolerance_pct=20, stops=False, set_by="yard",
                            source_words="Workshop board, B. Kitto", minutes=45, tasks=GREASE),
        by=bruna, at=at,
    )  # fmt: skip
    small = add_plan(
        details=PlanDetails("250-hour service", 250, None, 6, source_words="Chassis handbook, lubrication chart", minutes=150, tasks=OIL),
        includes=[grease], by=bruna, at=at,
    )  # fmt: skip
    large = add_plan(
        details=PlanDetails("500-hour service", 500, 20000, 12, make="Korrin", model="K7",
                            source_words="Korrin K7 handbook, section 4", minutes=360, tasks=WHOLE),
        includes=[small, grease], by=bruna, at=at,
    )  # fmt: skip
    brakes = add_plan(
        details=PlanDetails("Brake and wheel inspection", None, 10000, 3, tolerance_pct=5, set_by="yard",
                            source_words="Yard rule of 2024", minutes=120, tasks=BRAKES),
        by=bruna, at=at,
    )  # fmt: skip
    return {"grease": grease, "small": small, "large": large, "brakes": brakes}


# Engine hours since the 250-hour service, four weeks ago, where chance would not make the point.
HOURS_AGO = {"WC-14": 268, "WC-11": 236, "WC-22": 228, "WC-01": 180}


def _grease(world: World, cart: Cart, plan: ServicePlan, at: datetime) -> None:
    meters = world.walker.meters[cart.pk]
    record_service(
        cart=cart,
        plan=plan,
        done_at=at,
        engine_hours=meters.engine_hours,
        km=meters.km,
        by=world.people["isla"],
        at=at,
    )


def services(world: World, script: Script) -> None:
    """The last services of every cart, written up from the old book when the yard began."""
    at = world.when(-28, 9)
    found = plans(world, at)
    for n, (number, cart) in enumerate(world.carts.items()):
        ago = HOURS_AGO.get(number, (n * 37) % 190)
        _done(world, cart, found["small"], ago, days=ago // 5 + 1, at=at)
        if number != "WC-08":
            when = world.when(-24 + n % 20, 13, n)
            script.at(when, partial(_grease, world, cart, found["grease"]))
        if cart.make == "Korrin":
            _done(world, cart, found["large"], min(ago + 240, 400), days=ago // 5 + 60, at=at)
        _done(world, cart, found["brakes"], 0, days=(n * 13) % 50 if number != "WC-06" else 58, at=at)


def _done(world: World, cart: Cart, plan: ServicePlan, hours_ago: int, *, days: int, at: datetime) -> None:
    done_at = at - timedelta(days=days)
    km = odometers([cart.pk])[cart.pk].at(done_at)
    record_service(
        cart=cart,
        plan=plan,
        done_at=done_at,
        engine_hours=world.walker.meters[cart.pk].engine_hours - hours_ago,
        km=Decimal(km).quantize(Decimal("0.1"), rounding=ROUND_DOWN) if km is not None else None,
        by_words="From the old service book",
        cost=Decimal(240 + plan.minutes * 2),
        by=world.people["bruna"],
        at=at,
    )


def booked(world: World) -> None:
    """One workshop day that is booked already."""
    on = next(day for n in range(3, 9) if (day := world.today + timedelta(days=n)).weekday() < 5)
    book_visit(
        cart=world.carts["WC-22"], on=on, where="yard", words="250-hour service, six-month service of its extinguisher",
        minutes=170, by=world.people["bruna"], at=world.now,
    )  # fmt: skip
