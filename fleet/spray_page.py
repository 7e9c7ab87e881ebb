"""A cart's spray figures as its pages show them: the driver's table by heads open, and how each figure came about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import QuerySet

from fleet.models.carts import Cart
from fleet.models.evenness import EvennessTest
from fleet.models.spraying import SpraySheet
from fleet.water.evenness import Evenness
from fleet.water.spray_sheet import Opening, SheetRow, fill_min, open_flow, pumpable_l, sheet_rows
from fleet.water.spray_sheet import SpraySheet as Figures
from fleet.water.spraying import TRIAL_L_M2, out_of_range

LATEST = 5
# Where the figures of a table end.
CAUTION = (
    "Too much water makes a road slippery: the site’s own rules and the driver’s eye stand over any rate here. A full tank may be "
    "too heavy for a public road: a weighbridge decides."
)
STANDS_CLEAR = (
    "Park, brake and chock. One person at the switch, one at the bucket, in sight of each other; nobody near turning shafts. "
    "The makers’ manuals of pump and heads stand over this."
)
RATE_SOURCE = "RT-01 (COMPUTED): flow ÷ (speed in m/min × width)."
ROOT_SOURCE = (
    "SP-09 (VERIFIED-S): flow goes by the square root of pressure. That a pump on the engine gives by rpm is common practice, no "
    "source."
)


@dataclass(frozen=True)
class Working:
    """A figure that opens: what components/working.html takes."""

    label: str
    figure: str
    inputs: Sequence[tuple[str, str] | tuple[str, str, str]]
    rule: str
    source: str


@dataclass(frozen=True)
class TableRow:
    """note: why the rate is doubtful, a sentence, or ""."""

    row: SheetRow
    fill_min: float | None
    note: str

    @property
    def mark(self) -> str:
        """The note in two words, for a narrow table that says under it what they mean."""
        most = TRIAL_L_M2[1]
        return "" if not self.note else "above trials" if self.row.driver.rate_l_m2 > most else "below trials"


def l_min(value: float) -> str:
    return f"{value:,.0f} L/min"


def whole(value: float, unit: str) -> str:
    return f"{value:,.0f} {unit}"


def table_of(figures: Figures, opening: Opening, *, load_l: float) -> list[TableRow]:
    """The driver's table; a note where the rate lies outside what trials saw."""
    fill = fill_min(figures, load_l=load_l)
    return [
        TableRow(row, fill, next(iter(out_of_range(application_l_m2=row.driver.rate_l_m2)), ""))
        for row in sheet_rows(figures, opening, load_l=load_l)
    ]


def workings(figures: Figures, opening: Opening, one: TableRow, *, load_l: float) -> list[Working]:
    """The figures of one row, each with its inputs, equation and source."""
    return [*_while_spraying(figures, opening, one.row), *_of_a_load(figures, one, load_l=load_l)]


def _while_spraying(figures: Figures, opening: Opening, row: SheetRow) -> list[Working]:
    driver, flow = row.driver, open_flow(figures, opening)
    gear = next(each for each in figures.gears if each.name == driver.gear)
    bound = "They ask for more than the pump gives, so the pump’s flow stands. " if flow.is_pump_bound else ""
    goes = "the same at every rpm of the truck"
    if figures.pump == "engine":
        goes = f"× {driver.rpm:g} ÷ {figures.pump_rpm:g} rpm"
    kpa = f"at {figures.pump_kpa:g} kPa"
    return [
        Working(
            "Speed",
            f"{driver.speed_km_h:.1f} km/h",
            [(f"{gear.name} at {figures.gears_rpm:g} rpm", f"{gear.speed_km_h:g} km/h"), ("Engine", f"{driver.rpm:g} rpm")],
            "Road speed goes by rpm within a gear.",
            "Dimensional identity (COMPUTED).",
        ),
        Working(
            "Flow of the open heads",
            l_min(driver.flow_l_min),
            [
                (f"{opening.name} take", l_min(flow.heads_l_min), f"{kpa}; heads listed at {figures.head_kpa:g} kPa"),
                ("The pump gives", l_min(figures.pump_l_min), f"{kpa} and {figures.pump_rpm:g} rpm"),
            ],
            "Heads take by the root of pressure, and never more than the pump gives. "
            f"{bound}{l_min(flow.flow_l_min)}, {goes}.",
            ROOT_SOURCE,
        ),
        Working(
            "Laid on the road",
            f"{driver.rate_l_m2:.2f} L/m² ({driver.rate_l_m2:.2f} mm)",
            [
                ("Flow", l_min(driver.flow_l_min)),
                ("Speed", f"{driver.speed_km_h:.1f} km/h"),
                ("Width wetted", f"{row.width_m:g} m"),
            ],
            "Rate = flow ÷ (speed × 1000 ÷ 60 × width). A litre on a square metre is a millimetre.",
            RATE_SOURCE,
        ),
    ]  # fmt: skip


def _of_a_load(figures: Figures, one: TableRow, *, load_l: float) -> list[Working]:
    row, load = one.row, pumpable_l(figures, load_l=load_l)
    kept = f"{load_l:,.0f} L in the tank less {figures.dead_l:g} L"
    load_input = ("Can be sprayed", whole(load, "L"), kept)
    return [
        Working(
            "Road a load covers",
            whole(row.metres_per_load, "m"),
            [
                load_input,
                ("Laid on the road", f"{row.driver.rate_l_m2:.2f} L/m²"),
                ("Width wetted", f"{row.width_m:g} m"),
            ],
            "Metres = litres ÷ rate ÷ width.",
            RATE_SOURCE,
        ),
        Working(
            "Time to empty",
            whole(row.empty_min, "min"),
            [load_input, ("Flow", l_min(row.driver.flow_l_min))],
            "Minutes = litres ÷ flow.",
            "Dimensional identity (COMPUTED).",
        ),
        *_to_fill(figures, one, load_input),
    ]


def _to_fill(figures: Figures, one: TableRow, load_input: tuple[str, str, str]) -> list[Working]:
    if figures.fill_l_min is None or one.fill_min is None:
        return []
    return [
        Working(
            "Time to fill",
            whole(one.fill_min, "min"),
            [load_input, ("Fills at", l_min(figures.fill_l_min), "Timed, on record with its tank.")],
            "Minutes = litres ÷ flow at the fill point; coupling and waiting are not in it.",
            "Dimensional identity (COMPUTED).",
        )
    ]


def facts_of(sheet: SpraySheet, figures: Figures) -> list[tuple[str, str] | tuple[str, str, str]]:
    heads = "; ".join(f"{one.name} {l_min(one.nominal_l_min)} ({one.nozzle})" for one in figures.heads)
    gears = "; ".join(f"{one.name} {one.speed_km_h:g} km/h, {one.width_m:g} m wide" for one in figures.gears)
    pump = f"at {figures.pump_kpa:g} kPa and {figures.pump_rpm:g} rpm; {sheet.get_pump_display().lower()}"
    return [
        ("Pump", l_min(figures.pump_l_min), pump),
        ("Heads when new", heads, f"at {figures.head_kpa:g} kPa"),
        ("Gears", gears, f"at {figures.gears_rpm:g} rpm"),
        (
            "Fills at",
            "not timed" if figures.fill_l_min is None else l_min(figures.fill_l_min),
            _was(sheet.fill_l_min, "L/min"),
        ),
        ("Left when the pump draws air", whole(figures.dead_l, "L"), _was(sheet.dead_l, "L")),
    ]


def _was(kept: Decimal | None, unit: str) -> str:
    """Of an older sheet, what it was recorded with."""
    return (
        "with its tank"
        if kept is None
        else f"recorded with {kept:,.0f} {unit}; what its tank has counts over that"
    )


TABLE_HEAD = (
    "Heads open", "Gear", "Engine rpm", "km/h", "L/min", "L/m2", "Width m", "Metres a load", "Minutes to empty", "Minutes to fill",
    "Litres in the tank", "Figures", "Note",
)  # fmt: skip


def file_of(sheet: SpraySheet, figures: Figures, *, load_l: float) -> Iterator[Sequence[object]]:
    """The driver's table of every choice of heads, under TABLE_HEAD."""
    for opening in figures.openings:
        for one in table_of(figures, opening, load_l=load_l):
            row, driver = one.row, one.row.driver
            yield (
                opening.name, driver.gear, driver.rpm, round(driver.speed_km_h, 2), round(driver.flow_l_min, 1),
                round(driver.rate_l_m2, 3), row.width_m, round(row.metres_per_load), round(row.empty_min, 1),
                None if one.fill_min is None else round(one.fill_min, 1), load_l, sheet.version, one.note,
            )  # fmt: skip


@dataclass(frozen=True)
class TestRow:
    """A test of heads with what it came to."""

    __test__ = False
    test: EvennessTest
    found: Evenness

    @property
    def out(self) -> str:
        names = [f"{head.name}: {head.advice}" for head in self.found.heads if head.advice != "good"]
        return "; ".join(names) or "every head good"


def tests_of(cart: Cart) -> QuerySet[EvennessTest]:
    """Newest first, all that their figures are reckoned from loaded."""
    rows = EvennessTest.objects.filter(cart=cart).select_related("sheet", "recorded_by")
    return rows.prefetch_related("catches__head")


def test_rows(tests: Iterable[EvennessTest]) -> list[TestRow]:
    return [TestRow(test, test.result()) for test in tests]


TEST_HEAD = (
    "Done", "By", "Pressure kPa", "Head", "Nozzle", "Litres", "Seconds", "L/min", "L/min when new", "Off new %", "Advice",
    "Christiansen %", "Low quarter %", "Tolerance %",
)  # fmt: skip


def test_table(tests: Iterable[EvennessTest]) -> Iterator[Sequence[object]]:
    """A row for each head of each test, under TEST_HEAD."""
    for one in test_rows(tests):
        for catch, head in zip(one.test.catches.all(), one.found.heads, strict=True):
            yield (
                one.test.done_at, one.test.recorded_by.full_name, one.test.pressure_kpa, head.name, head.nozzle, catch.caught_l,
                catch.seconds, round(head.flow_l_min, 1), round(head.nominal_l_min, 1), round(head.off_new * 100, 1), head.advice,
                round(one.found.christiansen_pct, 2), round(one.found.low_quarter_pct, 2), one.test.tolerance_pct,
            )  # fmt: skip


def panel(cart: Cart, at: datetime) -> Mapping[str, object]:
    """The figures in force and the last few tests of the heads. At most nine queries."""
    sheet = cart.spray_sheets.whole().order_by("-version").first()
    tests = test_rows(list(tests_of(cart).filter(done_at__lte=at)[:LATEST])) if sheet else []
    facts = facts_of(sheet, sheet.figures()) if sheet else []
    return {"sheet": sheet, "facts": facts, "tests": tests}
