"""Display only: quantities with their unit, the yard's clock, the time-in-hand line, addresses that keep filters.

Nothing here decides anything. A figure is always rounded towards zero, so that no screen shows a depth, a volume or a
reading greater than what was found; a rule never reads a rounded figure.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import ROUND_DOWN, Decimal, InvalidOperation
from typing import Any

from django import template
from django.forms import BoundField, Field
from django.template.context import RequestContext
from django.utils.html import format_html
from django.utils.safestring import SafeString

from people.clock import shown_zone, zone_mark

register = template.Library()

STOCK_REQUIRED = Field.default_error_messages["required"]
NOT_KNOWN = "not known"
NO_BREAK = "\N{NO-BREAK SPACE}"
# Unit key: what stands after the figure, and how many decimals are shown.
UNITS = {
    "mm": ("mm", 1),
    "m": ("m", 2),
    "l": ("L", 0),
    "km": ("km", 0),
    "h": ("h", 1),
    "kg": ("kg", 0),
    "kpa": ("kPa", 0),
    "psi": ("psi", 0),
    "l_min": ("L/min", 0),
    "km_h": ("km/h", 1),
    "l_m2": ("L/m²", 2),
    "pct": ("%", 0),
}


@register.filter
def quantity(value: object, unit: str) -> str:
    """A figure with its unit, "2.4 mm", rounded towards zero at the unit's decimals. None gives "not known"."""
    if value is None or value == "":
        return NOT_KNOWN
    symbol, decimals = UNITS[unit]
    try:
        exact = Decimal(str(value))
    except InvalidOperation:
        return str(value)
    shown = exact.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_DOWN)
    return f"{shown:,f}{NO_BREAK}{symbol}"


@register.filter
def signed(value: object) -> str:
    """A whole difference with its sign, "+14", "−16" or "0"; a minus as wide as a figure, never a hyphen."""
    whole = int(str(value))
    return f"{'+' if whole > 0 else '−' if whole < 0 else ''}{abs(whole):,}"


@register.filter
def counted(number: int, words: str) -> str:
    """A count with its noun, one and many parted by a comma: 3|counted:"cart,carts" gives "3 carts"."""
    one, many = words.split(",")
    return f"{number:,} {one if number == 1 else many}"


@register.filter
def ended(words: str) -> str:
    """What somebody typed, as a sentence that ends: "Five hours without water" gets its full stop."""
    text = words.rstrip()
    return text if not text or text[-1] in ".!?…" else f"{text}."


def _local(at: datetime) -> datetime:
    return at.astimezone(shown_zone())


def clock_words(at: datetime) -> str:
    """The yard's time of day: "5.30 am", "12 noon" and "12 midnight" in words, since 12 am is read both ways. On a page of a hire
    that works in another zone, the site's, with the zone's abbreviation: "2.30 am AWST"."""
    local, mark = _local(at), zone_mark(at).replace(" ", NO_BREAK)
    if local.minute == 0 and local.hour % 12 == 0:
        return f"{'12 noon' if local.hour else '12 midnight'}{mark}"
    return f"{local.hour % 12 or 12}.{local:%M}{NO_BREAK}{'am' if local.hour < 12 else 'pm'}{mark}"


@register.filter
def day(value: date | datetime | None) -> str:
    """Weekday and day, "Thu 4 Dec": an instant is taken by the yard's clock, a calendar day as it is."""
    if value is None:
        return NOT_KNOWN
    on = _local(value) if isinstance(value, datetime) else value
    return f"{on:%a} {on.day} {on:%b}"


@register.filter
def day_year(value: date | datetime | None) -> str:
    """Day with its year, "4 Dec 2026", where it may be another year's."""
    if value is None:
        return NOT_KNOWN
    on = _local(value) if isinstance(value, datetime) else value
    return f"{on.day} {on:%b} {on.year}"


@register.filter
def moment(at: datetime | None) -> SafeString | str:
    """Day and time, "Thu 4 Dec, 5.30 am", by the yard's clock, in a time element that carries the exact instant."""
    if at is None:
        return NOT_KNOWN
    return format_html(
        '<time datetime="{}">{}, {}</time>',
        _local(at).isoformat(timespec="seconds"),
        day(at),
        clock_words(at),
    )


@register.filter
def typed_moment(at: datetime) -> str:
    """As a field for a day and time takes it, by the yard's clock."""
    return f"{_local(at):%Y-%m-%dT%H:%M}"


@register.filter
def clock(at: datetime | None) -> str:
    """Time of day, "5.30 am", by the yard's clock."""
    return NOT_KNOWN if at is None else clock_words(at)


@register.filter
def span_words(span: timedelta | None) -> str:
    """A length of time in its two largest units, cut and not rounded: "2 days 4 h", "3 h 20 min", "under a minute"."""
    if span is None:
        return NOT_KNOWN
    minutes = int(abs(span).total_seconds() // 60)
    days, rest = divmod(minutes, 24 * 60)
    hours, left = divmod(rest, 60)
    parts = [
        f"{days} {'day' if days == 1 else 'days'}" if days else "",
        f"{hours}{NO_BREAK}h" if hours else "",
    ]
    if not days:
        parts.append(f"{left}{NO_BREAK}min" if left else "")
    return " ".join(part for part in parts if part) or "under a minute"


@register.filter
def readiness_shape(state: str) -> str:
    """The sign of a right-to-go state: ready, limits or held."""
    return {"ready": "safe", "limits": "caution", "held": "stop"}[state]


VERDICT_WORDS = {"ready": "Ready", "limits": "Goes with limits", "held": "Held"}


@register.filter
def verdict_parts(sentence: str, state: str) -> tuple[str, str, str]:
    """A readiness sentence in three: its verdict ("Held"), which is set large, the stop after it (":", "." or ""), the
    rest. A sentence that does not open with its state's words is all rest."""
    word = VERDICT_WORDS[state]
    if not sentence.startswith(word):
        return "", "", sentence
    rest = sentence[len(word) :]
    stop = rest[:1] if rest[:1] in (":", ".", ",") else ""
    return word, stop, rest[len(stop) :].strip()


@register.filter
def fault_sentences(field: BoundField) -> list[str]:
    """The faults of one form field in our words where the framework has only its stock "this field is required"."""
    kind = getattr(field.field.widget, "input_type", "")
    missing = {"checkbox": "Tick this to go on.", "select": "Choose one.", "radio": "Choose one."}.get(
        kind, "Not filled in yet."
    )
    return [
        missing if fault.code == "required" and fault.message == STOCK_REQUIRED else sentence
        for fault in field.errors.as_data()
        for sentence in fault.messages
    ]


@register.filter
def grade_shape(grade: str) -> str:
    """The sign of a defect's grade: do_not_use, by_date or watch."""
    return {"do_not_use": "stop", "by_date": "caution", "watch": "watch"}[grade]


@register.simple_tag(takes_context=True)
def query_with(context: RequestContext, **changes: Any) -> str:
    """The page's own query with some values set (or dropped, for None), so that paging and sorting keep the filters."""
    query = context["request"].GET.copy()
    for key, value in changes.items():
        query.pop(key, None)
        if value is not None:
            query[key] = str(value)
    return f"?{query.urlencode()}"


HAND_WIDTH = 240
HAND_EDGE = 6
HAND_HORIZON = timedelta(hours=72)


@dataclass(frozen=True)
class HandLine:
    """Geometry and words of one time-in-hand line. Lengths are units of the drawing, HAND_WIDTH wide."""

    words: str
    detail: str
    repair_width: int
    over_width: int
    wanted_x: int | None
    goes_on: bool


def hand_line(left: timedelta | None, repair: timedelta, *, horizon: timedelta = HAND_HORIZON) -> HandLine:
    """What a row of the queue draws: the time left before the cart is next wanted, and how much of it the repair needs.

    left: until the cart is wanted, negative when that has passed, None when nobody wants it yet. All rows share one
    horizon, so that lines one under the other compare; what lies beyond it runs off the edge.
    """
    room = HAND_WIDTH - 2 * HAND_EDGE

    def x(span: timedelta) -> int:
        return round(room * min(max(span / horizon, 0.0), 1.0))

    if left is None:
        return HandLine("not wanted yet", f"repair {span_words(repair)}", x(repair), 0, None, goes_on=True)
    hand = left - repair
    start, end = x(left), x(repair)
    words = f"short by {span_words(hand)}" if hand < timedelta(0) else f"{span_words(hand)} in hand"
    wanted = f"wanted in {span_words(left)}" if left >= timedelta(0) else f"wanted {span_words(left)} ago"
    detail = f"{wanted}, repair {span_words(repair)}"
    return HandLine(words, detail, min(start, end), max(end - start, 0), start, goes_on=left > horizon)


def _hand_paths(line: HandLine) -> dict[str, str]:
    """The paths of a line's drawing: the scale with a tick each day, the trough, the hatching, the mark where it is wanted."""
    near, far = HAND_EDGE, HAND_WIDTH - HAND_EDGE
    day_width = (far - near) * (timedelta(days=1) / HAND_HORIZON)
    ticks = (round(near + day_width * number) for number in range(HAND_HORIZON.days + (not line.goes_on)))
    arrow = f"M{far} 18l-5-3.5M{far} 18l-5 3.5" if line.goes_on else ""
    over = near + line.repair_width
    paths = {
        "scale": f"M{near} 18H{far}" + "".join(f"M{x} 15v6" for x in ticks) + arrow,
        "repair": f"M{near} 4h{line.repair_width}v10H{near}z" if line.repair_width else "",
        "over": f"M{over} 4h{line.over_width}v10h-{line.over_width}z" if line.over_width else "",
        "hatch": "".join(f"M{x} 14l5-10" for x in range(over + 2, over + line.over_width - 5, 6)),
    }
    if line.wanted_x is not None:
        wanted = near + line.wanted_x
        paths["left"] = f"M{far} 4H{near}v10H{far}" if line.goes_on else f"M{near} 4H{wanted}v10H{near}z"
        paths["wanted"] = "" if line.goes_on else f"M{wanted} 0v19"
    return paths


@register.inclusion_tag("components/time_in_hand.html")
def time_in_hand(left: timedelta | None, repair: timedelta, inputs: Sequence[str] = ()) -> dict[str, object]:
    line = hand_line(left, repair)
    return {"line": line, "paths": _hand_paths(line), "inputs": inputs}
