"""What the invented walk-rounds looked at: (place, rows of (title, where, value, unit, limit))."""

Looks = tuple[tuple[str, ...], ...]


def _look(title: str, where: str = "", value: str = "", unit: str = "", limit: str = "") -> tuple[str, ...]:
    return (title, where, value, unit, limit)


def _tread(*positions: tuple[str, str]) -> Looks:
    depth, legal = "Least tread depth", "at least 3.0 mm"
    return tuple(_look(depth, where, value, "mm", legal) for where, value in positions)


ROWS: tuple[tuple[str, Looks], ...] = (
    ("Cab", (
        _look("Maker’s handbook aboard"), _look("Seat belt latches and pulls back"), _look("Horn"),
        _look("Glass and mirrors"), _look("Wipers and washers"), _look("Warning lamps go out"),
        _look("Engine hours", "", "6412.3", "h"), _look("Air at cut-out", "", "850", "kPa", "800 to 950 kPa"),
        _look("Air after one minute", "", "840", "kPa", "drop under 20 kPa"), _look("Two-way radio answers"),
        _look("First-aid kit sealed", "", "2027-05"), _look("Retarder"), _look("Steering play"),
    )),
    ("Front and engine", (
        _look("Coolant level"), _look("Engine oil level"), _look("Belts"), _look("Leaks under the engine"),
        _look("Air filter indicator"), _look("Reverse lamps"), _look("Headlamps and indicators"), _look("Fan guard"),
    )),
    ("Right front wheel", (
        *_tread(("1R", "11.0")), _look("Nuts and pointers", "1R"), _look("Sidewalls", "1R"),
        _look("Cold pressure", "1R", "760", "kPa", "700 to 830 kPa"),
    )),
    ("Right side", (
        _look("Tank lid and vent"), _look("Battery and isolator"), _look("Steps and rails"), _look("Fuel cap and crossover"),
        _look("Side boards and bolts"), _look("Cannon mount"), _look("Hold-down brackets"), _look("Spring gap", "", "6", "mm", "at least 4 mm"),
    )),
    ("Right rear wheels", (
        *_tread(("2RI", "9.5"), ("2RO", "10.0"), ("3RI", "8.0"), ("3RO", "8.0")),
        _look("Stones between duals", "2R"), _look("Stones between duals", "3R"), _look("Hub leaks", "2R"), _look("Hub leaks", "3R"),
        _look("Nuts and pointers", "2R"), _look("Nuts and pointers", "3R"), _look("Mud flap"),
    )),
    ("Rear", (
        _look("Rear spray heads open and shut fully"), _look("Slots clear of stones"), _look("Tail, stop and indicator lamps"),
        _look("High brake lamps"), _look("Number plate readable"), _look("High-pressure outlet shut and capped"), _look("Safety decals"),
        _look("Hydrant fill cap and chain"), _look("Backflow device tag", "", "2027-02"), _look("Suction cap and strainer"),
    )),
    ("Left rear wheels", (
        *_tread(("2LI", "9.0"), ("2LO", "9.5"), ("3LI", "7.5"), ("3LO", "7.5")),
        _look("Stones between duals", "2L"), _look("Stones between duals", "3L"), _look("Hub leaks", "2L"), _look("Hub leaks", "3L"),
        _look("Nuts and pointers", "2L"), _look("Nuts and pointers", "3L"), _look("Mud flap"),
    )),
    ("Left side", (
        _look("Pump shaft guard"), _look("Pump gland drip", "", "2", "drips a minute", "at most 5 drips a minute"), _look("Delivery clamps"),
        _look("Hose reel, hose and keeper chain"), _look("Extinguisher gauge in the green", "DP9-44871"),
        _look("Extinguisher tag", "DP9-44871", "2026-09"), _look("Air tanks drained, no water out"), _look("Chocks aboard", "", "2", "chocks", "at least 2 chocks"),
        _look("Spill kit"), _look("Wiring looms"),
    )),
    ("Left front wheel", (
        *_tread(("1L", "11.5")), _look("Nuts and pointers", "1L"), _look("Sidewalls", "1L"),
        _look("Cold pressure", "1L", "770", "kPa", "700 to 830 kPa"),
    )),
    ("Tank top", (
        _look("Rollover frame bolts and welds"), _look("Rollover plate copied", "RF-2207"), _look("Beacon"), _look("Sight tube clear"),
        _look("Lid seal"), _look("Rails and hatch latch"), _look("Non-potable sign"), _look("Cannon stops and swing"),
        _look("Emergency stop stops the engine", "1"), _look("Emergency stop stops the engine", "2"), _look("Park brake holds in gear"),
        _look("Rolling brake test"), _look("Pump pressure, all heads open", "", "410", "kPa", "at least 350 kPa"),
        _look("Hub heat after the drive", "hottest, 3L", "52", "°C", "at most 80 °C"),
        _look("Low-water cut-out"), _look("Cannon pinned for travel"), _look("PTO out for travel"), _look("Left as found, keys in the safe"),
    )),
)  # fmt: skip

GATE_OUT_ROWS: tuple[tuple[str, Looks], ...] = (
    ("Front and engine", (_look("Leaks on the ground"), _look("Lamps, all round"))),
    ("Right rear wheels", (_look("Tyres by eye", "right"), _look("Nut pointers", "right"))),
    ("Rear", (_look("Heads shut, no dribble"), _look("Caps on, chains fast"), _look("Plate and rear lamps wiped"))),
    ("Left rear wheels", (_look("Tyres by eye", "left"), _look("Nut pointers", "left"))),
    ("Left side", (_look("Hoses stowed"), _look("Extinguisher in its bracket", "DP9-44871"), _look("Loose items"))),
    ("Tank top", (_look("Lid shut"), _look("Cannon pinned"), _look("Fuel", "", "8", "eighths"))),
)  # fmt: skip
