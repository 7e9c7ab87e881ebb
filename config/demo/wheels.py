"""Tyres of the demo: what each cart has on, a year of depths and km behind them as brought over from workshop cards, and wheel work
of the last days."""

from __future__ import annotations

import random
import uuid
from datetime import datetime, timedelta
from decimal import Decimal

from config.demo.story import PAST, PAST_KM, Script, World
from fleet.actions.wheels import TyreDetails, fit_tyre
from fleet.models.carts import Cart, MeterReading
from fleet.models.wheels import TreadReading, TyreFitting, WheelPosition
from servicing.models.wheels import Retorque
from servicing.wheel_actions import change_tyre, check_first, wheel_refitted

READ = 8
MAKES = ("Gravelcut", "Longhaul", "Dustman")
# Depths that stand out: one under the change-out depth, one near it.
DEPTHS = {("WC-20", "2LI"): "2.9", ("WC-04", "3RO"): "3.9"}


def _depth(cart: Cart, position: WheelPosition, n: int, k: int) -> tuple[Decimal, Decimal]:
    """What the tyre had when new, and has now."""
    new = Decimal(16 if position.steers else 18)
    told = DEPTHS.get((cart.fleet_number, position.code))
    return new, Decimal(told) if told else new - Decimal(20 + (n * 7 + k * 3) % 65) / 10


def fit_tyres(world: World) -> None:
    """Every cart's tyres, as they stood four weeks ago."""
    for n, cart in enumerate(world.carts.values()):
        _fit_all(world, cart, n, world.when(-28, 8))


def _fit_all(world: World, cart: Cart, n: int, at: datetime) -> None:
    """Every tyre, on since some months before the yard began here, with its depths of that time."""
    meters, chance = world.walker.meters[cart.pk], random.Random(n)  # noqa: S311 - for variety, not for secrets
    for k, position in enumerate(cart.wheel_positions.all()):
        new, depth = _depth(cart, position, n, k)
        # One pair of the fleet is of two makes.
        odd = (cart.fleet_number, position.code) == ("WC-22", "2LI")
        make = MAKES[(n + position.axle + odd) % 3]
        worn = min(Decimal(chance.randint(15, 24)) / 10, new - depth)
        fitting = fit_tyre(
            cart=cart,
            position_code=position.code,
            details=TyreDetails(
                f"TY{n:02d}{k:02d}", make, "11R22.5", new, cost=Decimal(690 if position.steers else 610)
            ),
            fitted_at=at - PAST,
            depth_mm=depth + worn,
            by=world.people["teo"],
            at=at,
        )
        _depths(fitting, depth, worn, chance, at)
        meters.tread_mm[position.code] = depth
    _km(cart, meters.km, at)


def _depths(fitting: TyreFitting, depth: Decimal, worn: Decimal, chance: random.Random, at: datetime) -> None:
    TreadReading.objects.bulk_create(
        TreadReading(
            fitting=fitting,
            depth_mm=round(depth + worn * left / READ + Decimal(chance.randint(-1, 1)) / 10, 1),
            read_at=at - PAST * left / READ,
            source_kind="workshop_card",
            source_id=uuid.uuid4(),
        )
        for left in range(READ - 1, -1, -1)
    )


def _km(cart: Cart, km: Decimal, at: datetime) -> None:
    meter = cart.meters.get(kind="km")
    MeterReading.objects.bulk_create(
        MeterReading(
            meter=meter,
            value=km - Decimal(PAST_KM) * left / READ,
            read_at=at - PAST * left / READ,
            source_kind="workshop_card",
            source_id=uuid.uuid4(),
        )
        for left in range(READ - 1, -1, -1)
    )


def wheel_work(world: World, script: Script) -> None:
    """A tyre changed yesterday and checked once; a wheel off this morning for its brakes, and not checked yet."""
    script.at(world.when(-1, 14), lambda at: _changed(world, "WC-12", at))
    script.at(world.now - timedelta(minutes=50), lambda at: _off_and_on(world, "WC-19", at))


def _changed(world: World, number: str, at: datetime) -> None:
    cart, teo = world.carts[number], world.people["teo"]
    old = TyreFitting.objects.get(
        wheel_position__cart=cart, wheel_position__code="3RO", period__upper_inf=True
    )
    make = old.tyre.make
    new = change_tyre(
        fitting=old,
        details=TyreDetails("TY9101", make, "11R22.5", Decimal(18), cost=Decimal(610)),
        changed_at=at,
        depth_mm=Decimal("17.8"),
        words="Cut in the shoulder, cord seen",
        by=teo,
        at=at,
    )
    checked_at = at + timedelta(minutes=40)
    check_first(
        task=Retorque.objects.get(fitting=new),
        done_at=checked_at,
        wrench="TW-2",
        setting_nm=630,
        nuts=10,
        second_for="Wes Tonkin, on its first run",
        shift_ends_at=world.when(2, 18),
        by=teo,
        at=checked_at,
    )
    world.walker.meters[cart.pk].tread_mm["3RO"] = Decimal("17.8")


def _off_and_on(world: World, number: str, at: datetime) -> None:
    wheel_refitted(
        cart=world.carts[number],
        position_code="2LO",
        refitted_at=at,
        why="Brake shoes, left rear",
        by=world.people["isla"],
        at=at,
    )
