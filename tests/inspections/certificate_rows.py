"""What the invented walk-rounds looked at: a place, then its looks as title | where | value | unit | limit."""

Looks = tuple[tuple[str, ...], ...]
Rows = tuple[tuple[str, Looks], ...]


def _rows(text: str) -> Rows:
    places: list[tuple[str, list[tuple[str, ...]]]] = []
    for line in text.strip().splitlines():
        if line.startswith("  "):
            parts = [part.strip() for part in line.split("|")]
            places[-1][1].append(tuple(parts + [""] * (5 - len(parts))))
        else:
            places.append((line, []))
    return tuple((place, tuple(looks)) for place, looks in places)


ROWS = _rows("""
Cab
  Maker’s handbook aboard
  Seat belt latches and pulls back
  Horn
  Glass and mirrors
  Wipers and washers
  Warning lamps go out
  Engine hours |  | 6412.3 | h
  Air at cut-out |  | 850 | kPa | 800 to 950 kPa
  Air after one minute |  | 840 | kPa | drop under 20 kPa
  Two-way radio answers
  First-aid kit sealed |  | 2027-05
  Retarder
  Steering play
Front and engine
  Coolant level
  Engine oil level
  Belts
  Leaks under the engine
  Air filter indicator
  Reverse lamps
  Headlamps and indicators
  Fan guard
Right front wheel
  Least tread depth | 1R | 11.0 | mm | at least 3.0 mm
  Nuts and pointers | 1R
  Sidewalls | 1R
  Cold pressure | 1R | 760 | kPa | 700 to 830 kPa
Right side
  Tank lid and vent
  Battery and isolator
  Steps and rails
  Fuel cap and crossover
  Side boards and bolts
  Cannon mount
  Hold-down brackets
  Spring gap |  | 6 | mm | at least 4 mm
Right rear wheels
  Least tread depth | 2RI | 9.5 | mm | at least 3.0 mm
  Least tread depth | 2RO | 10.0 | mm | at least 3.0 mm
  Least tread depth | 3RI | 8.0 | mm | at least 3.0 mm
  Least tread depth | 3RO | 8.0 | mm | at least 3.0 mm
  Stones between duals | 2R
  Stones between duals | 3R
  Hub leaks | 2R
  Hub leaks | 3R
  Nuts and pointers | 2R
  Nuts and pointers | 3R
  Mud flap
Rear
  Rear spray heads open and shut fully
  Slots clear of stones
  Tail, stop and indicator lamps
  High brake lamps
  Number plate readable
  High-pressure outlet shut and capped
  Safety decals
  Hydrant fill cap and chain
  Backflow device tag |  | 2027-02
  Suction cap and strainer
Left rear wheels
  Least tread depth | 2LI | 9.0 | mm | at least 3.0 mm
  Least tread depth | 2LO | 9.5 | mm | at least 3.0 mm
  Least tread depth | 3LI | 7.5 | mm | at least 3.0 mm
  Least tread depth | 3LO | 7.5 | mm | at least 3.0 mm
  Stones between duals | 2L
  Stones between duals | 3L
  Hub leaks | 2L
  Hub leaks | 3L
  Nuts and pointers | 2L
  Nuts and pointers | 3L
  Mud flap
Left side
  Pump shaft guard
  Pump gland drip |  | 2 | drips a minute | at most 5 drips a minute
  Delivery clamps
  Hose reel, hose and keeper chain
  Extinguisher gauge in the green | DP9-44871
  Extinguisher tag | DP9-44871 | 2026-09
  Air tanks drained, no water out
  Chocks aboard |  | 2 | chocks | at least 2 chocks
  Spill kit
  Wiring looms
Left front wheel
  Least tread depth | 1L | 11.5 | mm | at least 3.0 mm
  Nuts and pointers | 1L
  Sidewalls | 1L
  Cold pressure | 1L | 770 | kPa | 700 to 830 kPa
Tank top
  Rollover frame bolts and welds
  Rollover plate copied | RF-2207
  Beacon
  Sight tube clear
  Lid seal
  Rails and hatch latch
  Non-potable sign
  Cannon stops and swing
  Emergency stop stops the engine | 1
  Emergency stop stops the engine | 2
  Park brake holds in gear
  Rolling brake test
  Pump pressure, all heads open |  | 410 | kPa | at least 350 kPa
  Hub heat after the drive | hottest, 3L | 52 | °C | at most 80 °C
  Low-water cut-out
  Cannon pinned for travel
  PTO out for travel
  Left as found, keys in the safe
""")

GATE_OUT_ROWS = _rows("""
Front and engine
  Leaks on the ground
  Lamps, all round
Right rear wheels
  Tyres by eye | right
  Nut pointers | right
Rear
  Heads shut, no dribble
  Caps on, chains fast
  Plate and rear lamps wiped
Left rear wheels
  Tyres by eye | left
  Nut pointers | left
Left side
  Hoses stowed
  Extinguisher in its bracket | DP9-44871
  Loose items
Tank top
  Lid shut
  Cannon pinned
  Fuel |  | 8 | eighths
""")
