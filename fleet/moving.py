"""May a held cart be moved on a move permit, and how? The rules that need no database (docs/move-permit.md)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

ROAD, GROUND, FLOAT = "road", "ground", "float"
WAYS = [
    (ROAD, "Driven on a public road"),
    (GROUND, "Driven on private ground: a yard or a site"),
    (FLOAT, "Carried on a float"),
]
# What holds a cart that is to be moved. Checks before a hire, what a hire asks and the tank's water hold no move.
HELD_BY = frozenset({"defect", "document", "extinguisher", "hold", "retorque", "service", "tyre"})
INCIDENT = "hold.incident"
NOT_CHECKED = ".could_not_be_checked"
ROAD_PAPERS = frozenset({"document.registration", "document.inspection", "document.insurance"})
TYRES_BY_LAW = frozenset({"tyre.below_legal", "tyre.age"})

# What a cart cannot be driven without, as checks call what they belong to.
PARTS = {"brakes": "its brakes", "steering": "its steering", "wheels": "a wheel or tyre"}
ON_A_FLOAT = "Put it on a float, or repair it where it stands."
ALWAYS = "The tank stays empty. No water, no spraying, no work for a hire."
WINCHED = "It is winched or lifted on and off: it does not move under its own power."
EVIDENCE = "It is held for an incident: nothing on it is cleaned, repaired or taken off."
CAUTION = (
    "This permit is no certificate and no leave to break a rule: road law, the driver’s own licence, the float’s and the "
    "site’s rules and the maker’s manual stand over it. The driver looks at the cart first and may refuse it."
)


@dataclass(frozen=True)
class Stop:
    """One thing that holds the cart, as readiness says it. Of a defect: the part it is of ("" where that is not told), whether
    it says “do not use”, and whether its kind always wants a second person."""

    code: str
    sentence: str
    part: str = ""
    is_do_not_use: bool = False
    always_second: bool = False


def holds_a_move(code: str) -> bool:
    """Whether a blocker of this code holds a cart that is to be moved, no hire in sight."""
    return code.split(".", maxsplit=1)[0] in HELD_BY or code.endswith(NOT_CHECKED)


def part_of(system: str, *, station: str) -> str:
    """brakes, steering or wheels; "" for anything else and for what cannot be told. system: what its check belongs to, "" where
    none told it: then what stands at a wheel counts as a wheel."""
    if system:
        return system if system in PARTS else ""
    return "wheels" if "_wheel" in station else ""


def refusal(stop: Stop, *, way: str) -> str:
    """Why nobody may permit a move that way with this, and what to do instead; "" where a manager may. Common practice, no
    source, but what is never passed is the trade's own."""
    told = f"{stop.sentence.rstrip('. ')}."
    if way == FLOAT:
        return ""
    if stop.is_do_not_use and stop.part:
        own = f"With {PARTS[stop.part]} so it does not move under its own power, on a road or off it."
        return f"{told} {own} {ON_A_FLOAT}"
    if stop.code.endswith(NOT_CHECKED):
        return f"{told} Until it is known what is wrong with it, it is not driven."
    if way == GROUND:
        return ""
    if stop.code in ROAD_PAPERS:
        return f"{told} No permit takes it on a public road. Put it on a float, or renew the paper first."
    if stop.code.startswith("retorque."):
        return f"{told} Have the nuts checked and recorded before it goes on a road."
    if stop.is_do_not_use or stop.code in TYRES_BY_LAW or (stop.code == "defect.late" and stop.always_second):
        return f"{told} No permit takes it on a public road so. {ON_A_FLOAT}"
    return ""


def refusals(stops: Sequence[Stop], *, way: str, plate: str) -> list[str]:
    """Every reason why no permit may be given for that way, each naming what it is about. plate: the cart's; "": it has none."""
    found = [sentence for stop in stops if (sentence := refusal(stop, way=way))]
    if way == ROAD and not plate:
        found.append(
            "It has no plate on record, and what is not registered goes on no public road. Put it on a float."
        )
    return found


def is_for_an_incident(stops: Sequence[Stop]) -> bool:
    """Evidence is kept: the fleet manager alone moves it, with a photo of how it stood."""
    return any(stop.code == INCIDENT for stop in stops)


def musts(stops: Sequence[Stop], *, way: str) -> list[str]:
    """What is printed on every permit, and what on this one."""
    lines = [ALWAYS]
    if way == FLOAT and any(stop.is_do_not_use and stop.part for stop in stops):
        lines.append(WINCHED)
    if is_for_an_incident(stops):
        lines.append(EVIDENCE)
    return lines
