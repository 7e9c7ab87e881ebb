"""A hand-made answer of the yard to `GET /sync/reference`: one invented yard, three carts, sheets of the real size."""

import copy
from typing import Any

Json = dict[str, Any]

STATIONS = [
    ("cab", "Cab"),
    ("front", "Front and engine"),
    ("right_front_wheel", "Right front wheel"),
    ("right_side", "Right side"),
    ("right_rear_wheels", "Right rear wheels"),
    ("rear", "Rear"),
    ("left_rear_wheels", "Left rear wheels"),
    ("left_side", "Left side"),
    ("left_front_wheel", "Left front wheel"),
    ("tank_top", "Tank top"),
]

PASSES = [
    (
        1,
        "Key-out lap",
        "Key out and in your pocket. Wheels chocked. Go round clockwise, starting at the cab.",
    ),
    (2, "Seat and start", "Back in the cab. Look round for people before you start the engine."),
    (
        3,
        "Engine-running lap",
        "Engine on, park brake on. Keep hands, sleeves and cords clear of belts and shafts.",
    ),
    (4, "Wet run and short drive", "Spray only where nobody stands. Emergency stops come last."),
]

GRADES = [
    ("do_not_use", "Do not use", "The cart stays where it is."),
    ("by_date", "Repair by a date", "It may work until then."),
    ("watch", "Watch", "Look again at the next check."),
]

WHY_NOT = [
    ("dark", "Too dark"),
    ("no_water", "No water"),
    ("lid_locked", "Lid locked"),
    ("blocked", "Something in the way"),
    ("other", "Other"),
]

PHRASES = ["loose", "cracked", "leaking", "missing", "worn", "bent", "blocked", "dirty", "won't turn off"]


def check(station: str, walk_pass: int, title: str, look_for: str, sound: str, **more: Any) -> Json:
    """One check of the reference; `more` overrides what is usual for a thing that is looked at."""
    usual: Json = {
        "title": title,
        "look_for": look_for,
        "sound": sound,
        "if_not": "Tell the workshop before the cart moves.",
        "grade": "by_date",
        "answer": "sound",
        "unit": None,
        "choices": [],
        "station": station,
        "pass": walk_pass,
        "required": False,
        "may_be_absent": False,
        "photo": False,
    }
    return usual | more


CHECKS: dict[str, Json] = {
    "handbook": check(
        "cab", 1, "Handbook", "The maker's handbook in its pocket.", "It is there and can be read."
    ),
    "steps": check("cab", 1, "Steps and grab rails", "Cracks, loose bolts, grease.", "Firm, clean and dry."),
    "coolant": check(
        "front", 1, "Coolant", "The level in the bottle, engine cold.", "Between the two marks."
    ),
    "belts": check(
        "front",
        1,
        "Fan and drive belts",
        "Cracks, fraying, a shine on the sides.",
        "Dry, whole and tight.",
        grade="do_not_use",
        if_not="A belt that goes takes the steering or the brakes with it. Do not start the engine.",
    ),
    "oil": check(
        "front",
        1,
        "Engine oil",
        "Dipstick out, wiped, back in, out again.",
        "Between the marks.",
        answer="choice",
        choices=[
            {"key": "between", "label": "Between the marks", "grade": None},
            {"key": "low", "label": "Under the low mark", "grade": "do_not_use"},
            {"key": "over", "label": "Over the full mark", "grade": "by_date"},
        ],
    ),
    "nuts_front": check(
        "right_front_wheel",
        1,
        "Wheel nuts",
        "Every nut there. Pointers nose to nose. Rust streaks below a nut.",
        "All there, no pointer turned.",
        grade="do_not_use",
        required=True,
    ),
    "tread": check(
        "right_rear_wheels",
        1,
        "Tread depth",
        "The least depth you can find, in a main groove, away from the wear bars.",
        "Even across the tyre, no cord showing.",
        answer="measure",
        unit="mm",
        grade="do_not_use",
    ),
    "tread_left": check(
        "left_rear_wheels",
        1,
        "Tread depth",
        "The least depth you can find, in a main groove, away from the wear bars.",
        "Even across the tyre, no cord showing.",
        answer="measure",
        unit="mm",
        grade="do_not_use",
    ),
    "stones": check(
        "left_rear_wheels",
        1,
        "Between the duals",
        "Stones wedged between the tyres, rubbing walls.",
        "A clear gap all the way round.",
    ),
    "pump_guard": check(
        "right_side",
        1,
        "Pump shaft guard",
        "The guard bolted on over the whole shaft.",
        "On, tight, nothing reaches in.",
        grade="do_not_use",
    ),
    "extinguisher": check(
        "left_side",
        1,
        "Extinguisher tag",
        "The month punched last on the tag.",
        "In its bracket, needle in the green.",
        answer="date",
    ),
    "rear_photo": check(
        "rear", 1, "Rear, as it stands", "Stand back until the whole rear is in the picture.", "", photo=True
    ),
    "cannon": check(
        "tank_top",
        1,
        "Cannon",
        "Bolts at the base, dents in the barrel.",
        "Firm, pinned for travel.",
        may_be_absent=True,
    ),
    "seat_belt": check(
        "cab",
        2,
        "Seat belt",
        "Pull it hard; look for cuts.",
        "Locks, and winds back.",
        grade="do_not_use",
        required=True,
    ),
    "hours": check("cab", 2, "Engine hours", "The hour meter.", "It counts.", answer="measure", unit="h"),
    "fuel": check(
        "cab",
        2,
        "Fuel",
        "The gauge, key on, level ground.",
        "",
        answer="choice",
        choices=[{"key": str(n), "label": f"{n} / 8", "grade": None} for n in range(1, 9)]
        + [{"key": "0", "label": "Empty", "grade": "by_date"}],
    ),
    "leaks": check(
        "front", 3, "Leaks, engine running", "Drips under the engine. Look, don't reach.", "Nothing wet."
    ),
    "heads": check(
        "rear", 4, "Rear heads", "Each head on, then fully off.", "A full fan, and no dribble when off."
    ),
    "estop": check(
        "cab",
        4,
        "Emergency stop",
        "Press it by the maker's method and see the engine stop.",
        "The engine stops at once.",
        grade="do_not_use",
        required=True,
    ),
}


def item(key: str, place: str = "", place_label: str = "", limit: Json | None = None) -> Json:
    """One line of a sheet."""
    return {"check": key, "place": place, "place_label": place_label, "limit": limit}


TREAD_LIMIT = {"op": ">=", "value": "3.0", "high": None, "unit": "mm", "grade": "do_not_use"}

DAILY = [
    *(item(key) for key in ("steps", "handbook", "belts", "oil", "coolant", "nuts_front", "pump_guard")),
    item("tread", "2RO", "outer", TREAD_LIMIT),
    item("tread", "2RI", "inner", TREAD_LIMIT),
    item("rear_photo"),
    item("tread_left", "2LO", "outer", TREAD_LIMIT),
    item("stones"),
    *(item(key) for key in ("extinguisher", "cannon", "seat_belt", "hours", "fuel", "leaks", "heads")),
    item("estop", "1", "in the cab"),
]

# The lot falls on a look of the key-out lap and on a reading; short enough to be walked whole.
PRE_HIRE = [item("steps"), item("belts"), item("tread", "2RO", "outer", TREAD_LIMIT), item("seat_belt")]
LOT = {"id": "a1" * 16, "picks": [["belts", ""], ["tread", "2RO"]]}

# Short enough to be walked to the end in every test of what comes after the walk.
GATE_OUT = [item("nuts_front"), item("tread", "2RO", "outer", TREAD_LIMIT), item("seat_belt")]


def sheet(items: list[Json], minutes: int) -> Json:
    """A sheet with its count."""
    return {"looks": len(items), "minutes": minutes, "items": items}


CART_IDS = {
    "WC 07": "6f0c2d9e-51a7-4d0b-9a55-3f1f0f6f0007",
    "WC 12": "6f0c2d9e-51a7-4d0b-9a55-3f1f0f6f0012",
    "WC 3": "6f0c2d9e-51a7-4d0b-9a55-3f1f0f6f0003",
}


def cart(number: str, **facts: Any) -> Json:
    """A cart with both sheets."""
    usual: Json = {
        "id": CART_IDS[number],
        "fleet_number": number,
        "plate": "",
        "make_model": "",
        "right_to_go": {"state": "ready", "sentence": ""},
        "leaves_at": None,
        "leaves_words": "In the yard",
        "where": "Main yard",
        "hire": None,
        "defects": [],
        "sheets": {
            "daily": sheet(DAILY, 11),
            "gate_out": sheet(GATE_OUT, 3),
            "pre_hire": sheet(PRE_HIRE, 4) | {"lot": LOT},
        },
        "purposes_due": [],
        "spray": None,
        "lap": f"/carts/{CART_IDS[number]}/lap.svg",
    }
    return usual | facts


HEAD_NAMES = ("Rear left", "Rear right", "Side left", "Side right")


def spray(version: int = 2, *, nozzle: str = "fan, 60 mm") -> Json:
    """Heads on record, each version's of their own ids."""
    heads = [
        {"id": f"5e000000-0000-4000-8000-{version:04d}0000000{n}", "name": name, "nozzle": nozzle, "nominal_l_min": "160.0"}
        for n, name in enumerate(HEAD_NAMES, start=1)
    ]  # fmt: skip
    sheet = f"5e000000-0000-4000-9000-{version:012d}"
    return {"sheet": sheet, "version": version, "head_kpa": "200.0", "heads": heads}


CARTS = [
    cart(
        "WC 3",
        plate="S447 BKD",
        make_model="Corrin 360, 10,000 L",
        right_to_go={"state": "held", "sentence": "Held: rear left inner tyre 2.4 mm, change-out at 3.0."},
    ),
    cart(
        "WC 12",
        plate="S102 CVR",
        make_model="Tarrow H8, 14,000 L",
        right_to_go={"state": "limits", "sentence": "Goes with limits: cannon tagged out."},
        leaves_at="2026-11-25T20:00:00Z",
        leaves_words="Leaves tomorrow 6:30 am",
        purposes_due=["gate_out"],
    ),
    cart(
        "WC 07",
        plate="S318 AQT",
        make_model="Marlin Bay 6x4, 12,000 L",
        right_to_go={"state": "ready", "sentence": "Ready until Thursday, then the 500-hour service."},
        leaves_at="2026-11-25T02:00:00Z",
        leaves_words="Leaves today 12:30 pm",
        hire={"line": "0d5d8c3c-0000-4000-8000-000000000001", "label": "Kanyaka Civil, Pipeline road"},
        purposes_due=["daily"],
        spray=spray(),
        defects=[
            {
                "id": "0d5d8c3c-0000-4000-8000-00000000000a",
                "title": "Cannon drips when shut",
                "grade": "watch",
                "station": "tank_top",
                "place": "",
                "told_words": "reported Tuesday",
                "state_words": "fitter Thursday",
                "second_look": "",
            },
            {
                "id": "0d5d8c3c-0000-4000-8000-00000000000b",
                "title": "Right mud flap torn",
                "grade": "by_date",
                "station": "right_rear_wheels",
                "place": "",
                "told_words": "reported Monday",
                "state_words": "repair by 4 December",
                "second_look": "",
            },
        ],
    ),
]

PURPOSES = {
    "pre_hire": {
        "label": "Pre-hire check",
        "statement": "I looked this cart over before its hire. What I have written is what I found.",
    },
    "daily": {
        "label": "Daily pre-start",
        "statement": "I walked round this cart and looked at every check above. What I have written is what I found.",
    },
    "gate_out": {
        "label": "Gate-out check",
        "statement": "I looked this cart over at the gate just before it left. What I have written is what I found.",
    },
    "heads_test": {
        "label": "Flow and evenness test",
        "statement": "I caught these heads at this pressure. What I have written is what I measured.",
        "must": "Park, brake and chock. One person at the switch, one at the bucket, in sight of each other; nobody near "
        "turning shafts. The makers’ manuals of pump and heads stand over this.",
        "tolerance_pct": "10",
    },
}

REFERENCE: Json = {
    "version": 1,
    "server_time": "2026-11-25T00:00:00Z",
    "csrf": "token-1",
    "person": {"id": "0d5d8c3c-0000-4000-8000-0000000000aa", "name": "Ira Pell", "role": "yard_hand"},
    "signed_in_at": "2026-11-25T01:01:00Z",
    "people": [],
    "rule_set": "au",
    "time_zone": "Australia/Adelaide",
    "edition": {"number": 4, "sha256": "4b" * 32},
    "purposes": PURPOSES,
    "grades": [{"key": key, "label": label, "means": means} for key, label, means in GRADES],
    "stations": [{"key": key, "label": label} for key, label in STATIONS],
    "passes": [{"number": number, "label": label, "note": note} for number, label, note in PASSES],
    "why_not": [{"key": key, "label": label} for key, label in WHY_NOT],
    "phrases": PHRASES,
    "checks": CHECKS,
    "carts": CARTS,
}


def reference(**changes: Any) -> Json:
    """A copy of the reference that a test may change."""
    return copy.deepcopy(REFERENCE) | changes
