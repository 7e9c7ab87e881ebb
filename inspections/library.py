"""The check library: the files it is written in, the plain content an edition freezes, and a yard's own changes.

`library()` is what came with this version. An edition keeps `content_of(...)` as canonical JSON and is read back by
`checks_from(...)`; a yard's added, reworded and retired checks go in by `merge(...)` before an edition is published.
"""

import tomllib
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path

from fleet.lap.stations import STATION_KEYS
from inspections.check import Check, CheckRefused
from inspections.check_reading import checks_of
from inspections.vocabulary import CEILINGS, LOT_PURPOSES, WHEEL_STATIONS

__all__ = [
    "CEILINGS",
    "Check",
    "CheckRefused",
    "checks_from",
    "checks_of",
    "content_of",
    "library",
    "load",
    "lot_purposes_of",
    "merge",
]

FOLDER = Path(__file__).parent / "checks"
CONTENT_VERSION = 1

SIDES = ("right_side", "left_side")

# Each file and the stations it may write for. Files are read in this order, which is the order asked at a station
# among checks of one pass and grade.
FILES: Mapping[str, tuple[str, ...]] = {
    "anywhere.toml": STATION_KEYS,
    "cab.toml": ("cab",),
    "seat_and_start.toml": ("cab",),
    "drive.toml": ("cab",),
    "front.toml": ("front",),
    "wheels.toml": WHEEL_STATIONS,
    "sides.toml": SIDES,
    "right_side.toml": ("right_side",),
    "left_side.toml": ("left_side",),
    "rear.toml": ("rear",),
    "tank_top.toml": ("tank_top",),
    "wet_run.toml": (*SIDES, "rear", "tank_top"),
}


@cache
def library() -> tuple[Check, ...]:
    """The checks that came with this version, in the order they are asked at each station."""
    return load(FOLDER)


def load(folder: Path) -> tuple[Check, ...]:
    """Every check written in a folder's files, in file order.

    CheckRefused with a sentence that starts with the file's name: a file that is missing, unknown or no TOML, a check
    that is not well written or is in another station's file, a key used twice.
    """
    spare = sorted(path.name for path in folder.glob("*.toml") if path.name not in FILES)
    if spare:
        raise CheckRefused(
            f"{spare[0]}: no station is written in a file of this name; use {', '.join(FILES)}."
        )
    return _once_each(check for name, stations in FILES.items() for check in _read(folder / name, stations))


def content_of(checks: Iterable[Check]) -> dict[str, object]:
    """The checks in plain JSON types (text, whole numbers, true, false, null, lists, tables), order kept."""
    return {
        "version": CONTENT_VERSION,
        "photos_by_lot": list(LOT_PURPOSES),
        "checks": [check.as_content() for check in checks],
    }


def lot_purposes_of(content: Mapping[str, object]) -> frozenset[str]:
    """The purposes whose sheets give a lot for photos; none in an issue from before there were lots."""
    found = content.get("photos_by_lot", [])
    return frozenset(found) if isinstance(found, list) else frozenset()


def checks_from(content: Mapping[str, object]) -> tuple[Check, ...]:
    """The checks `content_of` wrote. CheckRefused for another version, or a check that is not well written."""
    if content.get("version") != CONTENT_VERSION:
        raise CheckRefused(
            f"This sheet is in form {content.get('version')!r}; form {CONTENT_VERSION} can be read."
        )
    bodies = content.get("checks")
    if not isinstance(bodies, list) or not all(isinstance(body, Mapping) for body in bodies):
        raise CheckRefused("This sheet has no list of checks.")
    return _once_each(check for body in bodies for check in checks_of(body))


def merge(
    base: Iterable[Check], added: Iterable[Check] = (), retired: Collection[str] = ()
) -> tuple[Check, ...]:
    """The library with a yard's changes: `added` in, `retired` out.

    An added check whose key is in the base stands in its place (a rewording); the others come after the base, so they
    are asked last at their station. `retired` names keys, or families to retire a check at every station. A retired
    check may be added again in the same call. CheckRefused when a retired name is no check, or a key is added twice.
    """
    kept = tuple(base)
    new = {check.key: check for check in _once_each(added)}
    unknown = sorted(set(retired) - {name for check in kept for name in (check.key, check.family)})
    if unknown:
        raise CheckRefused(f"There is no check “{unknown[0]}” to retire.")
    staying = [check for check in kept if check.key in new or not {check.key, check.family} & set(retired)]
    placed = tuple(new.get(check.key, check) for check in staying)
    return placed + tuple(check for key, check in new.items() if key not in {one.key for one in placed})


def _read(path: Path, stations: tuple[str, ...]) -> tuple[Check, ...]:
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
    except FileNotFoundError as error:
        raise CheckRefused(f"{path.name}: the file is missing.") from error
    except tomllib.TOMLDecodeError as error:
        raise CheckRefused(f"{path.name}: not readable as TOML: {error}.") from error
    bodies = tables.get("check")
    if set(tables) != {"check"} or not isinstance(bodies, list):
        raise CheckRefused(f"{path.name}: a check file holds [[check]] tables and nothing else.")
    try:
        return tuple(check for body in bodies for check in _placed(body, stations))
    except CheckRefused as error:
        raise CheckRefused(f"{path.name}: {error}") from error


def _placed(body: Mapping[str, object], stations: tuple[str, ...]) -> tuple[Check, ...]:
    """A body as its file means it: in the file of one station, a check is at that station without saying so."""
    if len(stations) == 1 and "station" not in body and "stations" not in body:
        body = {**body, "station": stations[0]}
    return checks_of(body, stations=stations)


def _once_each(checks: Iterable[Check]) -> tuple[Check, ...]:
    found: dict[str, Check] = {}
    for check in checks:
        if check.key in found:
            raise CheckRefused(f"The key “{check.key}” is used twice. Choose another for one of them.")
        found[check.key] = check
    return tuple(found.values())
