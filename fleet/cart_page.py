"""What is known of one cart, read for its page: tyres against their limits, meters, extinguishers, papers, journal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import OuterRef, Prefetch, Q, Subquery
from django.urls import reverse

from fleet.addresses import known_record_url
from fleet.extinguisher_kinds import Due, due_for
from fleet.models.carts import Cart, Fitment, Meter, MeterReading, ReadingQuestion
from fleet.models.equipment import STOPS_ALWAYS, STOPS_ON_ROAD, Document, Extinguisher, ExtinguisherService
from fleet.models.wheels import TreadReading, TyreFitting, WheelPosition
from fleet.readings import subject_words
from fleet.tread_limits import judge, legal_limit, withdrawal_limit
from fleet.vin import check_digit_warning, normalise
from people.journal.actions import cart_chain
from people.journal.events import Event
from people.journal.models import Entry
from people.yard import yard_policy

LATEST = 20
TREAD_WORDS = {"sound": "", "under_yard": "change out", "under_law": "below the legal depth"}


def vin_note(vin: str) -> str:
    """What looks odd about a VIN as it was written down; "" when nothing does. Never a reason to refuse it."""
    if not vin:
        return ""
    try:
        return check_digit_warning(normalise(vin)) or ""
    except ValueError as error:
        return str(error)


GEAR_HEAD = ("Gear", "Count", "Details", "Fitted on")


def gear_table(fitments: Iterable[Fitment]) -> Iterator[Sequence[object]]:
    """The gear under GEAR_HEAD, for a file."""
    for one in fitments:
        yield one.get_kind_display(), one.count, one.details, one.fitted_on


@dataclass(frozen=True)
class MeterLine:
    """A meter now on the cart with its last believed reading."""

    label: str
    kind: str
    unit: str
    value: Decimal | None
    read_at: datetime | None


def meter_lines(cart: Cart) -> list[MeterLine]:
    last = MeterReading.objects.filter(meter=OuterRef("pk")).order_by("-read_at", "-value")
    meters = Meter.objects.filter(cart=cart, removed_at=None).annotate(
        last_value=Subquery(last.values("value")[:1]), last_read_at=Subquery(last.values("read_at")[:1])
    )
    found = {
        meter.kind: MeterLine(
            meter.get_kind_display(),
            meter.kind,
            "km" if meter.kind == "km" else "h",
            meter.last_value,
            meter.last_read_at,
        )
        for meter in meters
    }
    return [found[kind] for kind, _ in Meter.KINDS if kind in found]


@dataclass(frozen=True)
class WheelLine:
    """A wheel position: its tyre, the last depth, and the depths that count there."""

    code: str
    words: str
    tyre: str
    url: str
    fitting: TyreFitting | None
    depth_mm: Decimal | None
    read_at: datetime | None
    change_out_mm: Decimal
    legal: str
    state: str
    state_words: str

    @property
    def change_out(self) -> str:
        return f"{self.change_out_mm.normalize():f} mm"


def _across(position: WheelPosition) -> tuple[int, int]:
    """Axle by axle, from left to right as one walks up behind the cart."""
    places = ["L outer", "L single", "L inner", "R inner", "R single", "R outer"]
    return position.axle, places.index(f"{position.side} {position.place}")


def wheel_lines(cart: Cart) -> list[WheelLine]:
    """Every wheel position from the front, in one query for the fittings (the cart's wheel positions prefetched)."""
    last = TreadReading.objects.filter(fitting=OuterRef("pk")).order_by("-read_at")
    fittings = {
        row.wheel_position_id: row
        for row in TyreFitting.objects.filter(wheel_position__cart=cart, period__upper_inf=True)
        .annotate(
            last_depth_mm=Subquery(last.values("depth_mm")[:1]),
            last_read_at=Subquery(last.values("read_at")[:1]),
        )
        .select_related("tyre")
    }
    policy, lines = yard_policy(), []
    for position in sorted(cart.wheel_positions.all(), key=_across):
        fitting = fittings.get(position.pk)
        depth = getattr(fitting, "last_depth_mm", None)
        place = "steer" if position.steers else "other"
        yard_mm = policy.tread_steer_mm if position.steers else policy.tread_other_mm
        limits = {"rule_set": policy.rule_set, "position": place}
        state = "sound" if depth is None else judge(depth_mm=depth, yard_mm=yard_mm, **limits).state
        lines.append(
            WheelLine(
                code=position.code,
                words=position.words,
                tyre=str(fitting.tyre) if fitting else "",
                url=known_record_url("tyre_fitting", fitting.pk) if fitting else "",
                fitting=fitting,
                depth_mm=depth,
                read_at=getattr(fitting, "last_read_at", None),
                change_out_mm=withdrawal_limit(yard_mm=yard_mm, **limits).depth_mm,
                legal=legal_limit(**limits).as_written,
                state=state,
                state_words=TREAD_WORDS[state],
            )
        )
    return lines


@dataclass(frozen=True)
class ExtinguisherLine:
    item: Extinguisher
    next: Due | None
    is_due: bool
    url: str


def extinguisher_lines(cart: Cart, *, on: date) -> list[ExtinguisherLine]:
    """Extinguishers on the cart with the next service of each, in two queries."""
    services = Prefetch("services", ExtinguisherService.objects.order_by("on"))
    lines = []
    for item in Extinguisher.objects.filter(cart=cart).prefetch_related(services):
        due = due_for(item, on=on)
        url = known_record_url("extinguisher", item.pk)
        lines.append(ExtinguisherLine(item, due[0] if due else None, bool(due) and due[0].on <= on, url))
    return lines


@dataclass(frozen=True)
class PaperLine:
    paper: Document
    is_yard_wide: bool
    is_lapsed: bool
    stops: str


def paper_lines(cart: Cart, *, on: date) -> list[PaperLine]:
    """The paper of each kind that counts, the cart's own and the yard's, in one query."""
    newest: dict[tuple[object, str], Document] = {}
    for paper in Document.objects.filter(Q(cart=cart) | Q(cart=None)).order_by("recorded_at"):
        key = (paper.cart_id, paper.kind)
        best = newest.get(key)
        # The one that lapses last counts; among papers that never lapse, the latest recorded.
        if best is None or _good_until(paper) >= _good_until(best):
            newest[key] = paper
    return [
        PaperLine(
            paper,
            paper.cart_id is None,
            paper.expires_on is not None and paper.expires_on < on,
            "stops it"
            if paper.kind in STOPS_ALWAYS
            else "stops it on a road"
            if paper.kind in STOPS_ON_ROAD
            else "",
        )
        for paper in sorted(newest.values(), key=lambda paper: (paper.cart_id is None, paper.kind))
    ]


def _good_until(paper: Document) -> date:
    return paper.expires_on or date.max


@dataclass(frozen=True)
class Question:
    question: ReadingQuestion
    what: str


def open_questions(cart: Cart) -> list[Question]:
    rows = ReadingQuestion.objects.filter(cart=cart, settled_at=None)
    return [Question(row, subject_words(row.subject)) for row in rows]


# A dozen a day: they stand on the hire, and would push all else off the page.
TAPPED = (Event.LOAD_TAKEN, Event.LOAD_UNDONE)


@dataclass(frozen=True)
class JournalLine:
    who: str
    wording: str
    at: datetime
    url: str


def journal_lines(cart: Cart) -> list[JournalLine]:
    """The latest entries of the cart's own chain but its loads of water, newest first, in one query."""
    page = reverse("fleet:cart_detail", args=[cart.pk])
    lines = []
    for entry in (
        Entry.objects.filter(chain=cart_chain(cart.pk))
        .exclude(event__in=TAPPED)
        .order_by("-position")[:LATEST]
    ):
        url = known_record_url(entry.subject_kind, entry.subject_id)
        lines.append(JournalLine(entry.by_words, entry.wording, entry.at, "" if url == page else url))
    return lines


def cart_facts(cart: Cart) -> Sequence[tuple[str, str] | tuple[str, str, str]]:
    """What is written down of the cart, as label, value and a note where one is wanted."""
    tank = f"{cart.tank_length_m} × {cart.tank_width_m} × {cart.tank_height_m} m"
    return [
        ("Make and model", cart.make_model),
        ("Built", str(cart.build_year)),
        ("VIN", cart.vin or "not on record", vin_note(cart.vin)),
        ("Driver sits", "on the right" if cart.steering_side == "right" else "on the left"),
        ("Gross limit", f"{cart.gross_limit_kg:,} kg"),
        ("Tank", f"{cart.get_tank_shape_display()}, {cart.get_tank_material_display().lower()}", tank),
        (
            "Tank holds",
            f"{cart.tank_capacity_l:,} L",
            "Full may be too heavy for a public road: a weighbridge decides.",
        ),
        ("Fuel tanks hold", f"{cart.fuel_tank_l:,} L" if cart.fuel_tank_l else "not on record"),
        ("Home", cart.home_yard),
    ]
