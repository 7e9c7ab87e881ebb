"""The pen: turns strokes in metres into SVG text.

Every element is styled by a class, for the style sheet, and by presentation attributes, so that the same drawing is
right where no style sheet reaches it. Nothing here knows what a water cart is.
"""

import html
import math
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain, repeat

UNITS_PER_M = 50.0

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Palette:
    """What ink and paper are called in presentation attributes."""

    ink: str
    paper: str
    typeface: str


ON_SCREEN = Palette("currentColor", "#fff", "system-ui, sans-serif")
# WeasyPrint and viewers of a stand-alone file have no page to take a colour from.
ON_PAPER = Palette("#000", "#fff", "Paper Text, DejaVu Sans, sans-serif")

# Pen widths step by about the square root of two, as drawing pens do: the thinnest still prints at 54 mm wide.
_HEAVY, _FIRM, _FINE = "2.6", "1.8", "1.3"


@dataclass(frozen=True, slots=True)
class Style:
    """Fill and stroke ("ink", "paper" or "none"), width in drawing units, dashes, and whether ends are cut square.

    Ends and joints are round otherwise: the drawing's root says so once for all.
    """

    fill: str
    stroke: str
    width: str = ""
    dashes: str = ""
    butt: bool = False


STYLES: dict[str, Style] = {
    "shell": Style("paper", "ink", _HEAVY),
    "edge": Style("none", "ink", _HEAVY),
    "casing": Style("none", "paper", "6"),
    "part": Style("paper", "ink", _FIRM),
    "line": Style("none", "ink", _FIRM),
    "fine": Style("none", "ink", _FINE),
    "hidden": Style("none", "ink", _FINE, "5 3.5", butt=True),
    "hatch": Style("none", "ink", "1.1", butt=True),
    "hatch-broken": Style("none", "ink", "1.1", "4.5 2.5 1.2 2.5", butt=True),
    "solid": Style("ink", "none"),
    "blank": Style("paper", "none"),
    "rimmed": Style("ink", "paper", "1.6"),
    "groove": Style("none", "paper", "1.1", butt=True),
    "spray": Style("none", "ink", "1.5", "3.2 2.8", butt=True),
    "walk": Style("none", "ink", "1.7", "5.5 4.5", butt=True),
}


def number(value: float) -> str:
    """A figure in drawing units to one decimal, the same on every machine and never "-0"."""
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def units(metres: float) -> str:
    """A length in metres, written in drawing units."""
    return number(metres * UNITS_PER_M)


def turned(x: float, y: float, heading: float) -> Callable[[float, float], Point]:
    """Places about a point that faces `heading`, in degrees clockwise from straight ahead.

    The answer takes metres ahead and metres to the right of it.
    """
    ahead_x, ahead_y = math.sin(math.radians(heading)), -math.cos(math.radians(heading))

    def out(ahead: float, right: float) -> Point:
        return (x + ahead_x * ahead - ahead_y * right, y + ahead_y * ahead + ahead_x * right)

    return out


@dataclass(slots=True)
class Pen:
    """Collects elements. Neighbours of one style share a group, which keeps the file small."""

    palette: Palette
    _out: list[str] = field(default_factory=list)
    _style: str = ""

    def path(self, style: str, *steps: str | float) -> None:
        """Strokes: letters and arc flags as text, figures in metres, as in ("M", 0, 1, "L", 2, 1, "Z")."""
        self._put(style, f'<path d="{" ".join(s if isinstance(s, str) else units(s) for s in steps)}"/>')

    def line(self, style: str, *points: Point) -> None:
        """A stroke through points, in straight pieces."""
        self.path(style, *_through(points))

    def shape(self, style: str, *points: Point) -> None:
        """A closed outline through points."""
        self.path(style, *_through(points), "Z")

    def strokes(self, style: str, pairs: Iterable[tuple[Point, Point]]) -> None:
        """Many separate straight strokes as one element."""
        self.path(style, *(step for pair in pairs for step in _through(pair)))

    def circle(self, style: str, x: float, y: float, radius: float) -> None:
        self._put(style, f'<circle cx="{units(x)}" cy="{units(y)}" r="{units(radius)}"/>')

    def box(
        self, style: str, x: float, y: float, width: float, height: float, *, corner: float = 0.0
    ) -> None:
        """A rectangle about its centre, so that a part is placed by one point."""
        round_corner = f' rx="{units(corner)}"' if corner else ""
        self._put(
            style,
            f'<rect x="{units(x - width / 2)}" y="{units(y - height / 2)}" width="{units(width)}" '
            f'height="{units(height)}"{round_corner}/>',
        )

    def element(self, markup: str) -> None:
        """Markup that carries its own style."""
        self._run("")
        self._out.append(markup)

    @contextmanager
    def group(self, **attributes: str) -> Iterator[None]:
        """A group; `class_` and `data_place` are written class and data-place. Values are escaped."""
        self._run("")
        self._out.append(f"<g{attributes_text(attributes)}>")
        yield
        self._run("")
        self._out.append("</g>")

    def title(self, text: str) -> None:
        self.element(f"<title>{html.escape(text)}</title>")

    def markup(self) -> str:
        self._run("")
        return "".join(self._out)

    def _put(self, style: str, element: str) -> None:
        self._run(style)
        self._out.append(element)

    def _run(self, style: str) -> None:
        if style == self._style:
            return
        if self._style:
            self._out.append("</g>")
        self._style = style
        if style:
            self._out.append(f'<g class="lap-{style}"{self._paint(STYLES[style])}>')

    def _paint(self, style: Style) -> str:
        colours = {"ink": self.palette.ink, "paper": self.palette.paper, "none": "none"}
        attributes = {"fill": colours[style.fill], "stroke": colours[style.stroke]}
        if style.width:
            attributes["stroke_width"] = style.width
        if style.butt:
            attributes["stroke_linecap"] = "butt"
        if style.dashes:
            attributes["stroke_dasharray"] = style.dashes
        return attributes_text(attributes)


def _through(points: Iterable[Point]) -> Iterator[str | float]:
    for letter, point in zip(chain(("M",), repeat("L")), points, strict=False):
        yield letter
        yield from point


def attributes_text(attributes: dict[str, str]) -> str:
    """Attributes as they stand in a tag, each with a space before it; names' underscores become hyphens."""
    return "".join(
        f' {name.rstrip("_").replace("_", "-")}="{html.escape(value)}"' for name, value in attributes.items()
    )
