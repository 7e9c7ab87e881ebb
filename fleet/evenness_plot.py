"""The picture of how even a cart's heads were, test by test. Same data, same bytes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from io import BytesIO

import matplotlib as mpl
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.dates import AutoDateLocator, DateFormatter, date2num
from matplotlib.figure import Figure

# The look's own colours (static/css/tokens.css): a picture behind <img> cannot read the page's sheet.
PAPER, INK, INK_2, LINE, WORKING = "#fcfbf6", "#15130f", "#36322a", "#b4ae9f", "#6b1b64"

mpl.rcParams["svg.hashsalt"] = "slake"
mpl.rcParams["svg.fonttype"] = "path"


@dataclass(frozen=True)
class EvennessPoint:
    on: date
    christiansen_pct: float
    low_quarter_pct: float


def draw(points: Sequence[EvennessPoint]) -> bytes:
    """The points as SVG, 640 by 260, oldest first, without a date of its own. At least one."""
    figure = Figure(figsize=(6.4, 2.6), facecolor=PAPER)
    axes = figure.add_subplot(facecolor=PAPER)
    days = [float(date2num(point.on)) for point in points]  # type: ignore[no-untyped-call]
    axes.plot(
        days, [point.christiansen_pct for point in points], "o-", color=WORKING, linewidth=2.5, markersize=7, label="Christiansen"
    )  # fmt: skip
    axes.plot(
        days, [point.low_quarter_pct for point in points], "s--", color=INK, linewidth=2, markersize=6, label="low quarter"
    )  # fmt: skip
    least = min(min(point.christiansen_pct, point.low_quarter_pct) for point in points)
    # One test alone has no width of its own.
    axes.set_xlim(days[0] - 7, days[-1] + 7)
    axes.set_ylim(min(60.0, least - 5), 101)
    axes.set_ylabel("evenness, %", fontsize=11, color=INK)
    axes.xaxis.set_major_locator(AutoDateLocator(maxticks=6))  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_formatter(DateFormatter("%d %b %y"))  # type: ignore[no-untyped-call]
    axes.tick_params(labelsize=10, colors=INK_2)
    axes.grid(color=LINE, linewidth=0.6, alpha=0.6)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.legend(loc="lower left", fontsize=10, frameon=True, facecolor=PAPER, edgecolor=LINE)
    figure.tight_layout()
    out = BytesIO()
    FigureCanvasSVG(figure).print_svg(out, metadata={"Date": None, "Creator": None})  # type: ignore[no-untyped-call]
    return out.getvalue()
