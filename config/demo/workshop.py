"""What the demo's workshop has on its bench today: one put off, one that came back, a temporary fix, a job under way with its parts."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from decimal import Decimal

from config.demo.story import Script, World, chance_of
from fleet.actions.defects import tell_defect
from fleet.actions.equipment import ExtinguisherDetails, shelve_extinguisher
from fleet.actions.permits import MoveDetails, give_move_permit
from fleet.models.defects import Defect
from fleet.querysets import DefectQuerySet
from people.yard import yard_day
from servicing.actions import grading, parts, repairs, times
from servicing.actions.learning import rebuild_repair_times

# The third is too old to go on a cart, so that its refusal is there to be seen.
SPARES = (("EX5501", 14), ("EX5502", 40), ("EX5480", 400))

PARTS = (("Coupling gasket, grooved", "CG-114", "2", "6.80"), ("Bolt and nut, M12", "", "4", ""))


def bench(world: World, script: Script) -> None:
    script.at(world.when(-27, 9), lambda at: _spares(world, at))
    begun: list[Defect] = []
    script.at(world.when(-1, 13), lambda at: _begin(world, begun, at))
    script.at(world.when(-1, 14, 40), lambda at: _temporary(world, begun, at))
    script.at(world.now - timedelta(minutes=50), lambda at: _begin(world, begun, at))
    script.at(world.now - timedelta(minutes=20), lambda at: _parts(world, begun, at))
    script.at(world.when(-1, 16), lambda at: _put_off(world, at))
    script.at(world.now - timedelta(minutes=40), lambda at: _permit(world, at))
    script.at(world.when(-1, 16, 10), lambda at: _came_back(world, at))
    script.at(world.when(-1, 17), lambda at: rebuild_repair_times(at=at))


def _id(seed: int) -> uuid.UUID:
    return uuid.UUID(int=chance_of(seed).getrandbits(128), version=4)


def _small(*states: str) -> DefectQuerySet:
    """Open defects that hold no cart, the newest first, so that the mornings' work is not undone."""
    found = Defect.objects.open().filter(state__in=states, limits=None).exclude(grade="do_not_use")
    return found.exclude(check_key="").order_by("-told_at", "pk")


def _spares(world: World, at: datetime) -> None:
    for serial, days in SPARES:
        details = ExtinguisherDetails(serial, yard_day(at) - timedelta(days=days))
        shelve_extinguisher(details=details, by=world.people["bruna"], at=at)


def _permit(world: World, at: datetime) -> None:
    """The cart that waits for the pump maker's engineer goes to him."""
    details = MoveDetails(
        way="float", to_kind="workshop", to_words="Pump maker, Weir Road", reason="The engineer wants it on his bench",
        expires_at=at + timedelta(hours=11), is_empty=True, empty_words="Ruby, from the lid", driver_words="K. Amos, Amos Floats",
        licence_words="HC", conditions="Loaded at the wash bay. Cannon pinned, bars up, lid shut.",
    )  # fmt: skip
    give_move_permit(cart=world.carts["WC-14"], details=details, by=world.people["bruna"], at=at)


def _put_off(world: World, at: datetime) -> None:
    defect = _small("reported", "assessed").filter(grade="watch").first()
    if defect is not None:
        grading.put_off(
            defect=defect,
            version=defect.version,
            until=yard_day(at) + timedelta(days=4),
            because="The seal comes with Friday’s truck.",
            by=world.people["bruna"],
            at=at,
        )


def _came_back(world: World, at: datetime) -> None:
    """The lately repaired fault is seen again on the same cart, by whoever walks past it."""
    open_ones = Defect.objects.open().values("cart", "check_key", "place")
    seen = {(row["cart"], row["check_key"], row["place"]) for row in open_ones}
    for old in Defect.objects.filter(state="verified").exclude(check_key="").order_by("-closed_at", "pk"):
        if (old.cart_id, old.check_key, old.place) in seen:
            continue
        tell_defect(
            cart=old.cart,
            title=old.title,
            words="It is there again, worse after the wash bay.",
            station=old.station,
            place=old.place,
            grade="watch",
            source=("told_by_hand", _id(77)),
            by=world.people["wes"],
            by_words="",
            at=at,
            check_key=old.check_key,
            gear=old.gear,
            second_look_always=old.second_look_always,
            may_be_passed=old.may_be_passed,
        )
        return


def _begin(world: World, begun: list[Defect], at: datetime) -> None:
    """Teo goes on a job; what has no date yet is looked at first."""
    teo, bruna = world.people["teo"], world.people["bruna"]
    defect = _small("reported", "assessed").filter(grade="by_date").first()
    if defect is None:
        return
    if defect.state == "reported":
        due_on = yard_day(at) + timedelta(days=10)
        defect = grading.assess_defect(
            defect=defect, version=defect.version, grade="by_date", due_on=due_on, assigned_to=teo,
            words="Seen on the floor.", by=bruna, at=at,
        )  # fmt: skip
    times.go_on(defect=defect, version=defect.version, by=teo, at=at)
    begun.append(Defect.objects.get(pk=defect.pk))


def _temporary(world: World, begun: list[Defect], at: datetime) -> None:
    for defect in begun[:1]:
        repairs.record_repair(
            defect=defect,
            version=defect.version,
            words="Clamped and taped; the right part is a week away.",
            fix_ends_on=yard_day(at) + timedelta(days=3),
            by=world.people["teo"],
            at=at,
        )


def _parts(world: World, begun: list[Defect], at: datetime) -> None:
    for defect in begun[1:2]:
        for seed, (words, number, quantity, cost) in enumerate(PARTS):
            parts.use_part(
                defect=defect,
                part_id=_id(seed),
                words=words,
                part_number=number,
                quantity=Decimal(quantity),
                unit_cost=Decimal(cost) if cost else None,
                taken_from=None,
                by=world.people["teo"],
                at=at,
            )
