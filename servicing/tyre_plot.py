"""The picture of one tyre's wear: readings, the line through them, its spread, and both limits. Same data, same bytes."""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fleet.plot_look import CAUTION, INK, LINE, PAPER, STOP, WASH, WORKING, dress, svg_of
from servicing.tread import TreadPrior, wear_line


@dataclass(frozen=True)
class WearPicture:
    """What is drawn. readings: (km, depth in mm); the depths of the limits; the km of the forecast, None: there is none."""

    readings: tuple[tuple[float, float], ...]
    change_out_mm: float
    legal_mm: float
    prior: TreadPrior | None
    km_change_out: float | None
    km_change_out_low: float | None
    km_change_out_high: float | None


def _far(picture: WearPicture) -> tuple[float, float]:
    """From the first reading to somewhat past the change-out, or past the last reading where there is none."""
    first, last = min(km for km, _ in picture.readings), max(km for km, _ in picture.readings)
    end = max(last, picture.km_change_out or last)
    if picture.km_change_out_high is not None and picture.km_change_out is not None:
        # A spread far beyond the middle would press the readings to the edge.
        end = max(end, min(picture.km_change_out_high, first + 2 * (picture.km_change_out - first)))
    room = max((end - first) * 0.08, 100.0)
    return first - room, end + room


def _limits(axes: Axes, picture: WearPicture) -> None:
    for depth, words, colour, style in (
        (picture.change_out_mm, f"change out at {picture.change_out_mm:g} mm", INK, (0, (8, 4))),
        (picture.legal_mm, f"legal {picture.legal_mm:g} mm", STOP, "solid"),
    ):
        axes.axhline(depth, color=colour, linewidth=2, linestyle=style)
        axes.annotate(
            words, (0.01, depth), xycoords=("axes fraction", "data"), xytext=(0, 3), textcoords="offset points",
            color=colour, fontsize=11, fontweight="bold",
        )  # fmt: skip


def _line(axes: Axes, picture: WearPicture, left: float, right: float) -> None:
    line = wear_line(readings=picture.readings, prior=picture.prior)
    if line is None:
        return
    km = [left + (right - left) * step / 80 for step in range(81)]
    middle, spread = [line.depth_mm(one) for one in km], [line.spread_mm(one) for one in km]
    axes.fill_between(
        km,
        [max(depth - wide, 0) for depth, wide in zip(middle, spread, strict=True)],
        [depth + wide for depth, wide in zip(middle, spread, strict=True)],
        facecolor=WASH, edgecolor=WORKING, linewidth=0.8, label="spread, 9 in 10",
    )  # fmt: skip
    axes.plot(km, middle, color=WORKING, linewidth=2.5, label="wear")


def draw(picture: WearPicture) -> bytes:
    """The picture as SVG, 800 by 400, without a date in it. At least one reading."""
    figure = Figure(figsize=(8, 4), facecolor=PAPER)
    axes = figure.add_subplot(facecolor=PAPER)
    left, right = _far(picture)
    _line(axes, picture, left, right)
    _limits(axes, picture)
    axes.plot(
        [km for km, _ in picture.readings],
        [depth for _, depth in picture.readings],
        "o", color=INK, markersize=8, label="read",
    )  # fmt: skip
    if picture.km_change_out is not None:
        axes.plot(
            [picture.km_change_out], [picture.change_out_mm], "D", color=CAUTION, markeredgecolor=INK, markersize=11,
            label="change out",
        )  # fmt: skip
    top = max([depth for _, depth in picture.readings] + [picture.change_out_mm])
    axes.set_xlim(left, right)
    axes.set_ylim(0, top * 1.12 + 0.5)
    axes.set_xlabel("km on the odometer", fontsize=12, color=INK)
    axes.set_ylabel("depth, mm", fontsize=12, color=INK)
    axes.xaxis.set_major_formatter("{x:,.0f}")
    dress(axes)
    axes.legend(loc="upper right", fontsize=11, frameon=True, facecolor=PAPER, edgecolor=LINE)
    return svg_of(figure)
