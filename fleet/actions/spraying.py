"""A cart's spray figures, and the tests of its heads: each written down once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from fleet.actions.defects import tell_defect
from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.actions.signed_tests import SignedOnTablet, keep_signature, kept_before
from fleet.models.carts import Cart
from fleet.models.defects import CLOSED_STATES, Defect
from fleet.models.evenness import EvennessTest, HeadCatch
from fleet.models.spraying import SprayGear, SprayHead, SprayOpening, SpraySheet
from fleet.models.weights import TankMeasured
from fleet.water.evenness import Evenness, judge
from fleet.water.spray_sheet import Gear, Head, Opening
from fleet.water.spray_sheet import SpraySheet as Figures
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import WALKERS, WORKSHOP
from people.yard import yard_policy

SOURCE = "evenness_test"
# Where the heads are, for the workshop's drawing.
STATION = "rear"


class FiguresDoNotHold(Refusal):
    """Figures that cannot be: nothing may be reckoned with them."""


class OtherHeads(Refusal):
    """Other heads were on record of the cart before the test was done than those it was caught by."""


class TankNotMeasured(Refusal):
    """Nobody has measured the cart's tank, where its fill and what the pump can't draw stand."""


class NotDoneYet(Refusal):
    """The time of the test is still to come."""

    field = "done_at"


@dataclass(frozen=True)
class SpraySheetDetails:
    """What is written down of a cart's spray gear; openings name heads by their places, counted from 1."""

    pump: str
    pump_l_min: Decimal
    pump_kpa: Decimal
    pump_rpm: int
    gears_rpm: int
    rpms: Sequence[int]
    head_kpa: Decimal
    words: str
    gears: Sequence[tuple[str, Decimal, Decimal]]
    heads: Sequence[tuple[str, str, Decimal]]
    openings: Sequence[tuple[str, Sequence[int], Decimal | None]]

    def figures(self, tank: TankMeasured) -> Figures:
        """As the pure rules take them with the cart's tank; ValueError where they cannot be."""
        names = [name for name, _, _ in self.heads]
        for name, numbers, _ in self.openings:
            if any(not 1 <= number <= len(names) for number in numbers):
                raise ValueError(f"“{name}” names a head that is not among the {len(names)} of this cart.")
        return Figures(
            pump="own engine" if self.pump == "own engine" else "engine",
            pump_l_min=float(self.pump_l_min),
            pump_kpa=float(self.pump_kpa),
            pump_rpm=self.pump_rpm,
            gears_rpm=self.gears_rpm,
            rpms=tuple(self.rpms),
            head_kpa=float(self.head_kpa),
            fill_l_min=None if tank.fill_l_min is None else float(tank.fill_l_min),
            dead_l=float(tank.dead_l),
            gears=tuple(Gear(name, float(speed), float(width)) for name, speed, width in self.gears),
            heads=tuple(Head(name, nozzle, float(flow)) for name, nozzle, flow in self.heads),
            openings=tuple(
                Opening(name, tuple(names[n - 1] for n in numbers), None if width is None else float(width))
                for name, numbers, width in self.openings
            ),
        )


@transaction.atomic
def record_spray_sheet(*, cart: Cart, details: SpraySheetDetails, by: Staff, at: datetime) -> SpraySheet:
    """Write down a cart's spray figures as its next version; the versions before it stay.

    NotAllowed; TankNotMeasured; FiguresDoNotHold for what cannot be; AgainstARule. The same as the newest again returns the
    newest.
    """
    ask_role(by, WORKSHOP, "Spray figures are recorded by a fitter or a manager.")
    cart = lock_cart(cart)
    tank = cart.tanks_measured.first()
    if tank is None:
        raise TankNotMeasured(
            f"The tank of cart {cart.fleet_number} is not measured: how fast it fills and what the pump can’t draw stand there. "
            "A manager measures it first, under “Road fill and weight”."
        )
    try:
        figures = details.figures(tank)
    except ValueError as error:
        raise FiguresDoNotHold(str(error)) from error
    last = cart.spray_sheets.whole().order_by("-version").first()
    if last is not None and last.words == details.words.strip() and last.figures() == figures:
        return last
    sheet = SpraySheet(
        cart=cart, version=last.version + 1 if last else 1, pump=details.pump, pump_l_min=details.pump_l_min,
        pump_kpa=details.pump_kpa, pump_rpm=details.pump_rpm, gears_rpm=details.gears_rpm, rpms=list(details.rpms),
        head_kpa=details.head_kpa, words=details.words.strip(), recorded_at=at, recorded_by=by,
    )  # fmt: skip
    check_fields(sheet)
    with rules_of(SpraySheet, SprayGear, SprayHead, SprayOpening):
        sheet.save(force_insert=True)
        _save_parts(sheet, details)
    write_journal(
        event=Event.SPRAY_FIGURES, subject=("spray_sheet", sheet.pk), chains=[cart_chain(cart.pk)], by=by, at=at,
        facts={
            "version": sheet.version, "pump": sheet.pump, "pump_l_min": sheet.pump_l_min, "pump_kpa": sheet.pump_kpa,
            "words": sheet.words,
            "gears": [[name, str(speed), str(width)] for name, speed, width in details.gears],
            "heads": [[name, nozzle, str(flow)] for name, nozzle, flow in details.heads],
        },
    )  # fmt: skip
    return sheet


def _save_parts(sheet: SpraySheet, details: SpraySheetDetails) -> None:
    SprayGear.objects.bulk_create(
        SprayGear(sheet=sheet, position=place, name=name, speed_km_h=speed, width_m=width)
        for place, (name, speed, width) in enumerate(details.gears, start=1)
    )
    SprayHead.objects.bulk_create(
        SprayHead(sheet=sheet, position=place, name=name, nozzle=nozzle, nominal_l_min=flow)
        for place, (name, nozzle, flow) in enumerate(details.heads, start=1)
    )
    SprayOpening.objects.bulk_create(
        SprayOpening(sheet=sheet, position=place, name=name, heads=list(numbers), width_m=width)
        for place, (name, numbers, width) in enumerate(details.openings, start=1)
    )


def judged(
    sheet: SpraySheet,
    *,
    pressure_kpa: Decimal,
    caught: Mapping[UUID, tuple[Decimal, Decimal]],
    tolerance_pct: Decimal,
) -> Evenness:
    """What a test comes to before it is signed. caught: head id -> (litres, seconds). FiguresDoNotHold."""
    heads = [head for head in sheet.heads.all() if head.pk in caught]
    if len(heads) < len(caught):
        raise FiguresDoNotHold(
            "A catch is of a head that these spray figures do not have. Open the test again."
        )
    rows = [
        HeadCatch(head=head, caught_l=caught[head.pk][0], seconds=caught[head.pk][1]).catch()
        for head in heads
    ]
    try:
        return judge(rows, pressure_kpa=pressure_kpa, head_kpa=sheet.head_kpa, tolerance_pct=tolerance_pct)
    except ValueError as error:
        raise FiguresDoNotHold(str(error)) from error


@transaction.atomic
def record_evenness(
    *,
    sheet: SpraySheet,
    done_at: datetime,
    pressure_kpa: Decimal,
    caught: Mapping[UUID, tuple[Decimal, Decimal]],
    words: str = "",
    signed: SignedOnTablet | None = None,
    by: Staff,
    at: datetime,
) -> EvennessTest:
    """Sign a flow and evenness test, and tell a defect where a head is outside the yard's tolerance and none is open already.

    signed: on a tablet, by whom; `by` then only sends it, and the same record again returns the first. Else the same moment
    and catches again do. NotAllowed; NotDoneYet; FiguresDoNotHold; OtherHeads; ChangedAfterSigning; AgainstARule for another
    test at that time.
    """
    ask_role(by, WALKERS, "Spray heads are tested by a yard hand, a fitter or a manager.")
    if done_at > at:
        raise NotDoneYet("The test has not happened yet. Give the time it was done.")
    cart, tolerance = lock_cart(sheet.cart), yard_policy().head_tolerance_pct
    if signed and (sent_before := kept_before(signed)):
        return sent_before
    _ask_heads(cart, sheet, done_at)
    found = judged(sheet, pressure_kpa=pressure_kpa, caught=caught, tolerance_pct=tolerance)
    if not signed and (kept := _on_record(cart, done_at, pressure_kpa, caught)):
        return kept
    test = EvennessTest(
        cart=cart, sheet=sheet, done_at=done_at, pressure_kpa=pressure_kpa, tolerance_pct=tolerance, words=words.strip(),
        recorded_at=at, recorded_by=signed.author if signed else by,
    )  # fmt: skip
    check_fields(test)
    with rules_of(EvennessTest, HeadCatch):
        test.save(force_insert=True)
        HeadCatch.objects.bulk_create(
            HeadCatch(test=test, head_id=head, caught_l=litres, seconds=seconds)
            for head, (litres, seconds) in caught.items()
        )
    by_words = keep_signature(test, signed, by=by) if signed else ""
    _tell(test, found, by=by, by_words=by_words, at=at)
    facts = _facts(test, caught) | ({"record_sha256": signed.sha256} if signed else {})
    write_journal(
        event=Event.HEADS_TESTED, subject=(SOURCE, test.pk), chains=[cart_chain(cart.pk)], by=by, by_words=by_words, at=at,
        facts=facts,
    )  # fmt: skip
    return test


def _ask_heads(cart: Cart, sheet: SpraySheet, done_at: datetime) -> None:
    """Judged against heads that were off the cart by then, a good head would look worn. Figures recorded after the test change
    nothing about it."""
    then = cart.spray_sheets.filter(version__gt=sheet.version, recorded_at__lte=done_at).first()
    if then is None or then.head_facts() == sheet.head_facts():
        return
    raise OtherHeads(
        f"The test is against spray figures {sheet.version} of cart {cart.fleet_number}. Figures {then.version}, with other "
        "heads, were on record before it was done. Take it up again against those."
    )


def _facts(test: EvennessTest, caught: Mapping[UUID, tuple[Decimal, Decimal]]) -> dict[str, object]:
    heads = [(head.name, caught[head.pk]) for head in test.sheet.heads.all() if head.pk in caught]
    return {
        "done_at": test.done_at,
        "pressure_kpa": test.pressure_kpa,
        "tolerance_pct": test.tolerance_pct,
        "sheet": test.sheet.version,
        "heads": [[name, str(litres), str(seconds)] for name, (litres, seconds) in heads],
    }


def _on_record(
    cart: Cart, done_at: datetime, pressure_kpa: Decimal, caught: Mapping[UUID, tuple[Decimal, Decimal]]
) -> EvennessTest | None:
    """The same test, where it was signed already; AgainstARule where it is another."""
    kept = cart.evenness_tests.filter(done_at=done_at).first()
    if kept is None:
        return None
    was = {row.head_id: (row.caught_l, row.seconds) for row in kept.catches.all()}
    if was == dict(caught) and kept.pressure_kpa == pressure_kpa:
        return kept
    raise AgainstARule(
        f"A test of cart {cart.fleet_number} is on record for that time. Give the time of this one.", field="done_at"
    )  # fmt: skip


def open_defect(cart: Cart) -> Defect | None:
    """The defect that an earlier test told and that is still open."""
    return cart.defects.filter(source_kind=SOURCE).exclude(state__in=CLOSED_STATES).first()


def _tell(test: EvennessTest, found: Evenness, *, by: Staff, by_words: str, at: datetime) -> None:
    out = [head for head in found.heads if head.advice != "good"]
    if not out or open_defect(test.cart) is not None:
        return
    many = "head is" if len(out) == 1 else "heads are"
    tell_defect(
        cart=test.cart,
        title=f"{len(out)} spray {many} {test.tolerance_pct:g} % or more off",
        words=" ".join([*found.sentences, *(f"{head.name} {head.off_new * 100:+.0f} %." for head in out)]),
        station=STATION,
        place="",
        grade="watch",
        source=(SOURCE, test.pk),
        by=by,
        by_words=by_words,
        at=at,
        # Jets are among what one person closes with a photo.
        second_look_always=False,
        may_be_passed=True,
    )
