"""How the yard's plots look, and how one is written: SVG in the look's own colours, same data, same bytes."""

from __future__ import annotations

from io import BytesIO

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

# The look's own colours (static/css/tokens.css): a picture behind <img> cannot read the page's sheet.
PAPER, INK, INK_2, LINE = "#fcfbf6", "#15130f", "#36322a", "#b4ae9f"
WORKING, WASH, STOP, CAUTION = "#6b1b64", "#f5e6f2", "#a3121c", "#f9d000"

mpl.rcParams["svg.hashsalt"] = "slake"
# Letters as outlines: the same on every machine, whatever letters it has.
mpl.rcParams["svg.fonttype"] = "path"


def dress(axes: Axes) -> None:
    """Ticks, grid and open sides."""
    axes.tick_params(labelsize=11, colors=INK_2)
    axes.grid(color=LINE, linewidth=0.6, alpha=0.6)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def svg_of(figure: Figure) -> bytes:
    """The figure as SVG, without a date in it."""
    figure.tight_layout()
    out = BytesIO()
    FigureCanvasSVG(figure).print_svg(out, metadata={"Date": None, "Creator": None})  # type: ignore[no-untyped-call]
    return out.getvalue()
