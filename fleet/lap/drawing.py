"""The lap: one cart in plan, nose up, with the stops of a walk-round about it and its open defects pinned on.

The same markup serves a telephone, a desk and paper. See docs/lap.md.
"""

import html
import re
from collections.abc import Collection, Sequence

from fleet.lap import body
from fleet.lap.cart import LapAxle, LapCart, Pin
from fleet.lap.layout import HALF_WIDTH_M, Layout
from fleet.lap.parts import draw_layer
from fleet.lap.pen import ON_PAPER, ON_SCREEN, Pen, units
from fleet.lap.pins import PlacedPin, draw_pins, place
from fleet.lap.stations import station
from fleet.lap.walk import STOP_M, Walk, leaving, line, stops

__all__ = ["LapAxle", "LapCart", "Pin", "draw"]

_ID = re.compile(r"[A-Za-z][\w-]*")
_MARGIN_M = 0.2


def draw(
    cart: LapCart,
    *,
    title: str,
    description: str,
    pins: Sequence[Pin] = (),
    here: str | None = None,
    done: Collection[str] = (),
    walk: bool = True,
    numbers: bool = True,
    id_prefix: str = "lap",
    self_contained: bool = False,
) -> str:
    """A whole <svg> element: the cart seen from above, nose up.

    `here` and `done` are station keys; `walk` draws the walking line and its stops, `numbers` the figures in them.
    `self_contained` writes its own ink and leaves out hidden marks, for a PDF or a file on its own; otherwise ink is
    the page's text colour and lap.css dresses the classes. `id_prefix` keeps ids apart when a page holds several.
    The same input always gives the same text. ValueError for an unknown station or an unfit `id_prefix`.
    """
    if not _ID.fullmatch(id_prefix):
        raise ValueError("An id starts with a letter and holds letters, digits, hyphens and underscores.")
    for key in (*done, *([] if here is None else [here])):
        station(key)
    at = Layout(cart)
    route = Walk(at)
    pen = Pen(ON_PAPER if self_contained else ON_SCREEN)
    if walk:
        line(pen, route)
        leaving(pen, route)
    placed = _draw_cart(pen, at, route, pins)
    draw_pins(pen, placed)
    if walk or numbers or here or done:
        stops(pen, route, here=here, done=done, figures=numbers, all_marks=not self_contained)
        reach = (route.line_x + STOP_M, route.front_y - STOP_M, route.rear_y + STOP_M)
    else:
        reach = (HALF_WIDTH_M + 0.3, -0.5, route.back + 0.2)
    return _svg(pen, _box(reach, placed), title=title, description=description, id_prefix=id_prefix)


def _draw_cart(pen: Pen, at: Layout, route: Walk, pins: Sequence[Pin]) -> tuple[PlacedPin, ...]:
    body.chassis(pen, at)
    points = draw_layer(pen, at, "deck")
    body.tank(pen, at)
    body.cab(pen, at)
    body.wheels(pen, at)
    body.edges_over_tyres(pen, at)
    points |= draw_layer(pen, at, "side")
    body.lid(pen, at)
    points |= draw_layer(pen, at, "top")
    return place(pins, route, points)


def _box(reach: tuple[float, float, float], placed: Sequence[PlacedPin]) -> str:
    """The viewBox: room for everything drawn, the cart's centre line in its middle."""
    half = max([reach[0], *(abs(one.mark[0]) + 0.36 for one in placed)]) + _MARGIN_M
    top = min([reach[1], *(one.mark[1] - 0.42 for one in placed)]) - _MARGIN_M
    foot = max([reach[2], *(one.mark[1] + 0.36 for one in placed)]) + _MARGIN_M
    return " ".join(units(value) for value in (-half, top, 2 * half, foot - top))


def _svg(pen: Pen, box: str, *, title: str, description: str, id_prefix: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="lap" viewBox="{box}" role="img" '
        f'stroke-linecap="round" stroke-linejoin="round" aria-labelledby="{id_prefix}-title {id_prefix}-desc">'
        f'<title id="{id_prefix}-title">{html.escape(title)}</title>'
        f'<desc id="{id_prefix}-desc">{html.escape(description)}</desc>'
        f"{pen.markup()}</svg>"
    )
