"""Which gear is drawn, in what order, by what.

A row is a gear key, the layer it is drawn in and the function that draws it. Layers go from the ground up: the
decks, the cab roof and the tank top, then water.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from fleet.lap import parts_deck, parts_spray, parts_top
from fleet.lap.layout import Layout
from fleet.lap.pen import Pen, Point

Layer = Literal["deck", "side", "top"]


@dataclass(frozen=True, slots=True)
class Part:
    """One kind of gear. `draw` answers where a leader line to it should end, in metres."""

    key: str
    layer: Layer
    draw: Callable[[Pen, Layout], Point]


PARTS: tuple[Part, ...] = (
    Part("tank_spring_mounts", "deck", parts_deck.spring_mounts),
    Part("tank_rigid_mounts", "deck", parts_deck.rigid_mounts),
    Part("pump_shaft", "deck", parts_deck.pump_shaft),
    Part("pump_hydraulic", "deck", parts_deck.pump_hydraulic),
    Part("pump_auxiliary_engine", "deck", parts_deck.pump_auxiliary_engine),
    Part("hose_reel", "deck", parts_deck.hose_reel),
    Part("high_pressure_outlet", "deck", parts_deck.high_pressure_outlet),
    Part("spare_wheel", "deck", parts_deck.spare_wheel),
    Part("extinguisher", "deck", parts_deck.extinguisher),
    Part("fire_suppression", "deck", parts_deck.fire_suppression),
    Part("front_heads", "side", parts_spray.front_heads),
    Part("side_heads", "side", parts_spray.side_heads),
    Part("batter_heads", "side", parts_spray.batter_heads),
    Part("rear_heads", "side", parts_spray.rear_heads),
    Part("dribble_bar", "side", parts_spray.dribble_bar),
    Part("drop_bar", "side", parts_spray.drop_bar),
    Part("camera", "side", parts_deck.camera),
    Part("side_boards", "side", parts_deck.side_boards),
    Part("battery_isolator", "side", parts_deck.battery_isolator),
    Part("additive_tank", "side", parts_deck.additive_tank),
    Part("hydrant_fill", "side", parts_deck.hydrant_fill),
    Part("suction_fill", "side", parts_deck.suction_fill),
    Part("backflow_device", "side", parts_deck.backflow_device),
    Part("emergency_stop", "deck", parts_deck.emergency_stop),
    Part("sight_gauge", "top", parts_deck.sight_gauge),
    Part("tank_top_access", "top", parts_top.tank_top_access),
    Part("dip_gauge", "top", parts_top.dip_gauge),
    Part("air_gap_fill", "top", parts_top.air_gap_fill),
    Part("high_brake_lights", "top", parts_top.high_brake_lights),
    Part("cannon", "top", parts_top.cannon),
    Part("rops", "top", parts_top.rops),
    Part("work_lights", "top", parts_top.work_lights),
    Part("two_way_radio", "top", parts_top.two_way_radio),
    Part("beacon", "top", parts_top.beacon),
    Part("flag", "top", parts_top.flag),
)
DRAWN_GEAR: frozenset[str] = frozenset(part.key for part in PARTS)


def draw_layer(pen: Pen, at: Layout, layer: Layer) -> dict[str, Point]:
    """Draws what is fitted of one layer and answers where each part can be pointed at."""
    points = {}
    for part in PARTS:
        if part.layer == layer and part.key in at.cart.gear:
            with pen.group(class_="lap-gear", data_gear=part.key):
                points[part.key] = part.draw(pen, at)
    return points
