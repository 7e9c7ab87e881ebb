"""The fixed words of a walk-round: purposes, passes, grades, answers and systems, with what they say on screen."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fleet.gear import GEAR, TANK_MATERIALS

RULE_SETS = ("au", "us", "uk")
ANSWER_KINDS = ("sound", "measure", "choice", "date")
ANSWERS = ("good", "wrong", "not_on_cart", "could_not_check")
PLACE_KINDS = ("tyre", "hub", "extinguisher", "emergency_stop")
WHEEL_STATIONS = ("right_front_wheel", "right_rear_wheels", "left_rear_wheels", "left_front_wheel")
SECOND_LOOKS = ("always", "later")

SYSTEMS: Mapping[str, str] = MappingProxyType(
    {
        "cab": "Cab and papers",
        "engine": "Engine and fluids",
        "wheels": "Wheels and tyres",
        "steering": "Steering and suspension",
        "brakes": "Brakes and air",
        "stops": "Emergency stops",
        "body": "Chassis and body",
        "lights": "Lights and being seen",
        "tank": "Tank",
        "filling": "Filling",
        "plumbing": "Plumbing",
        "pump": "Pump",
        "spraying": "Spraying",
        "protection": "Rollover and fire",
        "general": "General",
    }
)
# A repair here is always seen by somebody other than the person who did it.
ALWAYS_SEEN_TWICE = frozenset({"wheels", "steering", "brakes", "stops"})

# Every word a check may ask a cart for: its gear, what its tank is made of, and two facts of the cart itself.
FACTS: frozenset[str] = frozenset(
    {*GEAR, *(f"tank_{material}" for material in TANK_MATERIALS), "dual_tyres", "registered"}
)


@dataclass(frozen=True, slots=True)
class Grade:
    """How bad a thing is: its name on screen and what it means for the cart."""

    key: str
    label: str
    means: str


GRADES: tuple[Grade, ...] = (
    Grade(
        "do_not_use",
        "Do not use",
        "The cart stays where it is until this is repaired and seen by a second person.",
    ),
    Grade("by_date", "Repair by a date", "The cart may work, with a date the workshop sets."),
    Grade("watch", "Watch", "The cart may work. It is looked at again at the next check."),
)
GRADE_KEYS = tuple(grade.key for grade in GRADES)


@dataclass(frozen=True, slots=True)
class Pass:
    """One time round the cart: its number, its name and what to mind while it is walked."""

    number: int
    label: str
    note: str


PASSES: tuple[Pass, ...] = (
    Pass(
        1,
        "Key-out lap",
        "Key out and in your pocket, PTO out, park brake on, wheels chocked. Clockwise from the cab.",
    ),
    Pass(2, "Seat and start", "In the seat, belt on. Look all round and sound the horn before you start."),
    Pass(
        3,
        "Engine-running lap",
        "Park brake on, chocks in. Eyes only: no hands, sleeves or rags near belts, fans or shafts.",
    ),
    Pass(
        4,
        "Wet run and short drive",
        "Chocks out and stowed. Nobody in front of heads or cannon. Emergency stops last, one a restart.",
    ),
)


@dataclass(frozen=True, slots=True)
class Purpose:
    """What a walk-round is for: its name, what its signer states, and the most looks the yard wants on its sheet."""

    key: str
    label: str
    statement: str
    ceiling: int


_OWN_EYES = "I looked at each of these myself and answered each as I found it"
PURPOSES: tuple[Purpose, ...] = (
    Purpose("daily", "Daily pre-start", f"{_OWN_EYES}, before the cart did any work.", 35),
    Purpose("weekly", "Weekly round", f"{_OWN_EYES}.", 24),
    Purpose("monthly", "Monthly round", f"{_OWN_EYES}.", 32),
    Purpose("pre_hire", "Pre-hire check", f"{_OWN_EYES}, and this is the state the cart is in.", 120),
    Purpose("gate_out", "Gate-out check", f"{_OWN_EYES}, and this is how the cart leaves.", 18),
    Purpose("as_returned", "As returned", f"{_OWN_EYES}, before anything was washed, moved or mended.", 18),
    Purpose("after_wash", "After wash", f"{_OWN_EYES}, with the cart washed.", 55),
)
PURPOSE_KEYS = tuple(purpose.key for purpose in PURPOSES)
CEILINGS: Mapping[str, int] = MappingProxyType({purpose.key: purpose.ceiling for purpose in PURPOSES})

# The walk-rounds on which the yard's lot picks two looks to be photographed.
LOT_PURPOSES = ("pre_hire",)

WHY_NOT: Mapping[str, str] = MappingProxyType(
    {
        "dark": "Too dark to see",
        "no_water": "No water aboard",
        "lid_locked": "Lid locked",
        "blocked": "Something in the way",
        "other": "Another reason",
    }
)

# What is said most about a water cart, one tap each.
PHRASES: tuple[str, ...] = (
    "Loose",
    "Cracked",
    "Leaking",
    "Missing",
    "Bent",
    "Worn out",
    "Chafed through",
    "Blocked",
    "Seized",
    "Won’t turn off",
    "Not working",
    "Strike damage",
)
