"""What invented papers are made of, for tests, bench and screens: yard, people, makes and plates are invented."""

import hashlib
import io
from dataclasses import replace

from PIL import Image, ImageDraw

from inspections.certificates.parts import (
    Cart,
    Customer,
    Gear,
    Hire,
    Issuer,
    Method,
    Photo,
    Result,
    Signature,
    Station,
    Tyre,
)

ISSUER = Issuer(
    name="Tallow Creek Water Carts",
    address=("12 Weighbridge Road", "Ironbark Flat SA"),
    contact=("08 5550 1470", "desk@tallowcreek.example"),
    business_number="Business number 00 000 000 014",
)
CUSTOMER = Customer(
    name="Merrin & Daughters Civil",
    contact_name="Aoife Merrin",
    phone="08 5550 2231",
    email="site@merrin.example",
    address=("Unit 3, 8 Culvert Street", "Ironbark Flat SA"),
)
HIRE = Hire(
    agreement="HA-0312",
    place_of_work="Saltbush Road widening, chainage 4 to 11 km",
    starts_at="2026-11-27T05:30:00+10:30",
    ends_at="2026-12-18T17:00:00+10:30",
    order_number="PO 88412",
    leaves="driven on a public road, empty",
    works="site roads only",
)
CART = Cart(
    id="0d2f6f2e-6a4e-4c1e-9d5c-3f1c7a1f7a14",
    fleet_number="WC-14",
    plate="TC 14 WR",
    vin="7ABTC14W0K1000147",
    make="Brolga",
    model="640",
    build_year=2019,
    tank_l=18000,
    tank_material="steel",
    axles="6x4, three axles",
    steering_side="right-hand drive",
    gear=(
        Gear(name="pump, shaft drive"),
        Gear(name="rear spray heads", detail="4"),
        Gear(name="side spray heads", detail="2"),
        Gear(name="cannon", detail="on the tank top"),
        Gear(name="hose reel", detail="30 m"),
        Gear(name="rollover frame", detail="plate RF-2207"),
        Gear(name="hydrant fill with backflow device"),
        Gear(name="9 kg dry powder extinguisher", detail="2"),
        Gear(name="two-way radio"),
        Gear(name="reversing alarm and camera"),
    ),
)
METHOD = Method(
    walk_round_id="5b0c1c94-5a53-4a4b-9d5e-2d0f6f1f4b77",
    walk_round_sha256=hashlib.sha256(b"walk-round").hexdigest(),
    sheet="Pre-hire check",
    edition=4,
    edition_sha256=hashlib.sha256(b"edition 4").hexdigest(),
    place="Tallow Creek yard, bay 2",
    started_at="2026-11-25T13:20:00+10:30",
    signed_at="2026-11-25T14:31:00+10:30",
)
STATEMENT = "I walked round this cart myself and answered every look as I found it."
POSITIONS = (
    ("1L", "left front, steer", "11.5"), ("1R", "right front, steer", "11.0"),
    ("2LO", "left rear, front axle, outer", "9.5"), ("2LI", "left rear, front axle, inner", "9.0"),
    ("2RI", "right rear, front axle, inner", "9.5"), ("2RO", "right rear, front axle, outer", "10.0"),
    ("3LO", "left rear, back axle, outer", "7.5"), ("3LI", "left rear, back axle, inner", "7.5"),
    ("3RI", "right rear, back axle, inner", "8.0"), ("3RO", "right rear, back axle, outer", "8.0"),
)  # fmt: skip
TYRES = tuple(
    Tyre(
        position=position,
        place=place,
        depth_mm=depth_mm,
        limit_mm="5.0" if "steer" in place else "3.0",
        measured_on="2026-11-25",
        make="Karst KR2 11R22.5",
    )
    for position, place, depth_mm in POSITIONS
)
SQUIGGLE = (
    tuple((20 + 9 * i, 60 + (i * 37 % 53) - 26, 40 * i) for i in range(24)),
    ((30, 108, 1100), (150, 100, 1160), (246, 104, 1240)),
)


def lap_svg() -> str:
    """A stand-in plan view of a cart with its numbered stops."""
    wheels = "".join(
        f'<rect x="{x}" y="{y}" width="26" height="70" fill="#fff" stroke="#111" stroke-width="4"/>'
        for y in (120, 560, 660)
        for x in (62, 252)
    )
    stops = (
        (170, 90),
        (170, 20),
        (310, 150),
        (310, 380),
        (310, 640),
        (170, 800),
        (30, 640),
        (30, 380),
        (30, 150),
        (170, 430),
    )
    marks = "".join(
        f'<circle cx="{x}" cy="{y}" r="19" fill="#fff" stroke="#111" stroke-width="3"/>'
        f'<text x="{x}" y="{y + 8}" font-size="22" text-anchor="middle" font-family="Paper Text">{n}</text>'
        for n, (x, y) in enumerate(stops, start=1)
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 340 830">'
        f"<title>WC-14 seen from above, ten numbered stops clockwise from the cab</title>{wheels}"
        '<rect x="84" y="52" width="172" height="150" rx="22" fill="#fff" stroke="#111" stroke-width="5"/>'
        '<rect x="80" y="230" width="180" height="520" rx="60" fill="#fff" stroke="#111" stroke-width="5"/>'
        '<path d="M100 230v520M240 230v520M80 410h180M80 590h180" stroke="#111" stroke-width="2" fill="none"/>'
        f'<path d="M96 770h148" stroke="#111" stroke-width="7"/>{marks}</svg>'
    )


def picture(number: int, *, upright: bool = False) -> bytes:
    """A print-size JPEG of nothing in particular, unlike any other number's."""
    size = (450, 600) if upright else (600, 450)
    image = Image.new("RGB", size, (196 - number * 5, 176, 140 + number * 6))
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, size[1] * 2 // 3, *size), fill=(120, 96, 70))
    draw.ellipse((120, 130, 420, 430), fill=(34, 34, 36), outline=(90, 90, 92), width=26)
    draw.line((40 + number * 9, 60, 520, 300 - number * 8), fill=(230, 226, 214), width=9)
    stored = io.BytesIO()
    image.save(stored, "JPEG", quality=78)
    return stored.getvalue()


def photos(count: int) -> tuple[tuple[Photo, ...], dict[str, bytes]]:
    """The first photos of the record and their print-size bytes by hash."""
    items = (
        "Tread depth",
        "Cannon mount",
        "Reverse lamp",
        "Rollover plate",
        "Fuel cap",
        "Left side, whole",
        "Pump shaft guard",
    )
    rows, prints = [], {}
    for number in range(1, count + 1):
        upright = number % 5 == 0
        data = picture(number, upright=upright)
        digest = hashlib.sha256(data).hexdigest()
        prints[digest] = data
        rows.append(
            Photo(
                number=number,
                sha256=hashlib.sha256(b"camera" + data).hexdigest(),
                print_sha256=digest,
                item=items[(number - 1) % len(items)],
                place=POSITIONS[number % 10][1] if number % 3 == 1 else "",
                taken_at=f"2026-11-25T13:{25 + number:02d}:12+10:30",
                width_px=450 if upright else 600,
                height_px=600 if upright else 450,
                caption="hairline at the foot, marked with chalk" if number == 2 else "",
            )
        )
    return tuple(rows), prints


def stations(rows: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...], limit: int) -> tuple[Station, ...]:
    """Stations with the first `limit` rows of a table of (title, place, value, unit, limit)."""
    made, number = [], 0
    for label, looks in rows:
        results = []
        for title, place, value, unit, bound in looks:
            if number < limit:
                number += 1
                results.append(
                    Result(
                        number=number,
                        check=title.lower().replace(" ", "_").replace(",", ""),
                        title=title,
                        place=place,
                        answer="good",
                        value=value or None,
                        unit=unit,
                        limit=bound,
                        verdict="within limit" if bound else "",
                    )
                )
        if results:
            made.append(Station(key=label.lower().replace(" ", "_"), label=label, results=tuple(results)))
    return tuple(made)


def answered(found: tuple[Station, ...], number: int, **changes: object) -> tuple[Station, ...]:
    """The stations with one result changed."""
    return tuple(
        replace(
            station,
            results=tuple(replace(r, **changes) if r.number == number else r for r in station.results),  # type: ignore[arg-type]
        )
        for station in found
    )


def signature(
    name: str = "Kim Osei", role: str = "yard hand", part: str = "Walked the cart and signed the check"
) -> Signature:
    """A drawn signature."""
    return Signature(
        kind="drawn",
        name=name,
        role=role,
        part=part,
        statement=STATEMENT,
        signed_at="2026-11-25T14:31:00+10:30",
        how="on the yard’s tablet 2",
        strokes=SQUIGGLE,
    )
