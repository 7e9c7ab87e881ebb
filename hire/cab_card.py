"""The A5 card for a cart's cab: road fill, dip, what the driver needs to know, and whom to ring. Made anew when it is asked for."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import mark_safe

from fleet.dip_page import DipTable, dip_table
from fleet.models.carts import Cart
from fleet.models.spraying import figures_of
from fleet.models.weights import WeightSheet
from fleet.plate_code import plate_address
from fleet.road_fill import DECIDES, FRESH_WATER, NONE_OUTSIDE, road_fill
from fleet.water.history import MAY
from fleet.water.road import RoadFill
from fleet.water.spray_sheet import SheetRow, sheet_rows
from fleet.water_standing import standing_of
from inspections.certificates.qr import qr_svg
from people.yard import yard_day

# So many dips stand on the card; the dip table has the rest.
DIPS, STEP_MM = 8, 20
# Working gears are two or three; the driver's table has every gear and rpm.
GEARS = 4
# With more cautions the card has no room for gears: the driver's table has them.
CAUTIONS_BESIDE = 2
STOWED = "Before a road: cannon pinned, bars up, hoses stowed, pump drive out, heads fully off, lid shut."
ALL_GEARS = "Gears: see the driver’s table."
MORE_GEARS = "Other rpm and heads: see the driver’s table."
NON_POTABLE = "Non-potable: this water is not for drinking."
POTABLE = "Drinking water only as the certificate of the hire says."


def card_html(cart: Cart, *, at: datetime, rule_set: str = "") -> str:
    """The card as the page that is laid out. rule_set: of the hire it goes on, as road_fill_of has it. A cart without a
    figure gets a card that says so."""
    on = yard_day(at)
    found = road_fill(cart, on=on, rule_set=rule_set)
    sheet = WeightSheet.objects.filter(cart=cart, from_on__lte=on).first()
    address = plate_address(reverse("fleet:plate", args=[cart.plate_code]))
    qr = qr_svg(address, title=f"QR code that opens cart {cart.fleet_number}, {address}")
    opening, rows, is_more = _gears(
        cart, litres=found.litres if isinstance(found, RoadFill) else cart.tank_capacity_l
    )
    is_full = isinstance(found, RoadFill) and len(found.cautions) > CAUTIONS_BESIDE
    context = {
        "cart": cart,
        "fill": found if isinstance(found, RoadFill) else None,
        "none": NONE_OUTSIDE,
        "decides": f"{DECIDES} {FRESH_WATER}",
        "height_m": sheet.height_m if sheet else None,
        "dips": _few(dip_table(cart, on=on, step_mm=STEP_MM)),
        "opening": opening,
        "is_full": is_full,
        "rows": [] if is_full else rows,
        "more_gears": (ALL_GEARS if is_full else MORE_GEARS) if rows and (is_full or is_more) else "",
        "water": POTABLE if standing_of(cart).verdict == MAY else NON_POTABLE,
        "stowed": STOWED,
        "on_call": settings.YARD_ON_CALL,
        "yard_name": settings.YARD_NAME,
        "on": on,
        "qr": mark_safe(qr),  # noqa: S308 - drawn by us
    }
    return render_to_string("hire/cab_card.html", context)


def _few(table: DipTable | None) -> list[tuple[int, int]]:
    """(mm down from the lid, litres) of a few dips from full downwards, evenly apart, empty left out."""
    lines = table.lines[:-1] if table else ()
    step = max(1, -(-len(lines) // DIPS))
    return [(line.down_mm, line.litres) for line in lines[::step]]


def _gears(cart: Cart, *, litres: float) -> tuple[str, list[SheetRow], bool]:
    """The first choice of heads by name, with a row for each gear at the middle of the rpms of the cart's table, and whether its
    table has more than these; none without spray figures."""
    sheet = figures_of([cart]).get(cart.pk)
    if sheet is None:
        return "", [], False
    rpm, opening = sheet.rpms[len(sheet.rpms) // 2], sheet.openings[0]
    rows = sheet_rows(sheet, opening, load_l=litres)
    shown = [row for row in rows if row.driver.rpm == rpm][:GEARS]
    return opening.name, shown, len(shown) < len(rows) or len(sheet.openings) > 1


def card_pdf(cart: Cart, *, at: datetime, rule_set: str = "") -> bytes:
    """The card as a PDF. RenderFault where a part could not be laid out."""
    from inspections.certificates.render import render_sheet  # noqa: PLC0415 - for weight: only papers pay for the layout

    return render_sheet(card_html(cart, at=at, rule_set=rule_set), name=f"Cab card of {cart.fleet_number}")
