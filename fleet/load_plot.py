"""The picture of a cart's loads against its fill: both axle groups and the whole, each with its limit, and the road fill."""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fleet.plot_look import INK, PAPER, STOP, WASH, WORKING, dress, svg_of
from fleet.water.road import RoadFill


@dataclass(frozen=True)
class LoadLine:
    """One support, or the whole: kg with an empty and with a full tank, and the limit."""

    name: str
    empty_kg: float
    full_kg: float
    limit_kg: float


@dataclass(frozen=True)
class LoadPicture:
    """What is drawn, litres along."""

    lines: tuple[LoadLine, ...]
    road_fill_l: int
    capacity_l: int


def picture_of(found: RoadFill) -> LoadPicture:
    empty, full = found.loads_kg(0), found.loads_kg(found.facts.tank.capacity_l)
    lines = []
    for name, limit, _ in found.limits:
        is_gross = name == "gross"
        lines.append(
            LoadLine(
                "whole cart" if is_gross else name,
                sum(empty.values()) if is_gross else empty[name],
                sum(full.values()) if is_gross else full[name],
                limit.kg,
            )
        )
    return LoadPicture(tuple(lines), found.litres, found.capacity_l)


def draw(picture: LoadPicture) -> bytes:
    """The picture as SVG, 960 by 360: a panel a line, so that it is read without colour too."""
    figure = Figure(figsize=(9.6, 3.6), facecolor=PAPER)
    for number, line in enumerate(picture.lines, start=1):
        axes = figure.add_subplot(1, len(picture.lines), number, facecolor=PAPER)
        _panel(axes, line, picture)
        if number == 1:
            axes.set_ylabel("tonnes on it", fontsize=12, color=INK)
    return svg_of(figure)


def _panel(axes: Axes, line: LoadLine, picture: LoadPicture) -> None:
    full, fill = picture.capacity_l, picture.road_fill_l
    if fill < full:
        axes.axvspan(fill, full, facecolor=WASH, hatch="///", edgecolor=WORKING, linewidth=0)
    axes.plot([0, full], [line.empty_kg / 1000, line.full_kg / 1000], color=INK, linewidth=2.5)
    axes.axhline(line.limit_kg / 1000, color=STOP, linewidth=2, linestyle=(0, (8, 4)))
    axes.annotate(
        f"limit {line.limit_kg / 1000:,.2f} t", (0.02, line.limit_kg / 1000), xycoords=("axes fraction", "data"),
        xytext=(0, 4), textcoords="offset points", color=STOP, fontsize=11, fontweight="bold",
    )  # fmt: skip
    axes.axvline(fill, color=WORKING, linewidth=2)
    axes.set_title(line.name, fontsize=13, fontweight="bold", color=INK, loc="left")
    top = max(line.full_kg, line.limit_kg) / 1000
    axes.set_xlim(0, full)
    axes.set_ylim(0, top * 1.15)
    axes.set_xlabel(f"litres; road fill {fill:,}", fontsize=11, color=INK)
    axes.xaxis.set_major_formatter("{x:,.0f}")
    axes.locator_params(axis="x", nbins=4)
    dress(axes)
