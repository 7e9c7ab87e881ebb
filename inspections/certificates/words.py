"""Plain words for what a paper's content holds as codes, days and instants. British spelling, the yard's own terms."""

import datetime

from inspections.certificates.parts import Photo, Station

ANSWERS = {
    "good": "Good",
    "wrong": "Something’s wrong",
    "not_on_cart": "Not on this cart",
    "could_not_check": "Couldn’t check",
}
WHY_NOT = {
    "dark": "too dark",
    "no_water": "no water",
    "lid_locked": "lid locked",
    "blocked": "blocked off",
    "other": "for another reason",
}
GRADES = {"do_not_use": "Do not use", "by_date": "Repair by a date", "watch": "Watch"}
RULE_SETS = {"au": "Australia", "us": "United States", "uk": "United Kingdom"}
OUTCOMES = {"ready": "Fit to go", "conditions": "Goes with limits"}

_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def day(iso: str) -> str:
    """Write an ISO day or month in words that stay on one line: 25 November 2026, March 2027."""
    if len(iso) == len("2027-03"):
        return f"{_MONTHS[int(iso[5:]) - 1]}\u00a0{iso[:4]}"
    on = datetime.date.fromisoformat(iso)
    return f"{on.day}\u00a0{_MONTHS[on.month - 1]}\u00a0{on.year}"


def moment(iso: str) -> str:
    """Write an ISO instant as it stood on the clock there: 25 November 2026, 16:42."""
    at = datetime.datetime.fromisoformat(iso)
    return f"{day(at.date().isoformat())},\u00a0{at:%H:%M}"


def offset(iso: str) -> str:
    """Write an ISO instant's own offset: UTC+10:30."""
    text = f"{datetime.datetime.fromisoformat(iso):%z}"
    return f"UTC{text[:3]}:{text[3:5]}"


def span(start: str, end: str) -> str:
    """Write two instants of one sitting, the day only once where it is the same one."""
    first, last = datetime.datetime.fromisoformat(start), datetime.datetime.fromisoformat(end)
    if first.date() == last.date():
        return f"{moment(start)} to {last:%H:%M}"
    return f"{moment(start)} to {moment(end)}"


def litres(amount_l: int) -> str:
    """Write whole litres: 18,000 L."""
    return f"{amount_l:,}\u00a0L"


def joined(*parts: str, by: str = ", ") -> str:
    """Join the parts that say something."""
    return by.join(part for part in parts if part)


def measured(value: str | None, unit: str) -> str:
    """Write a value with its unit. A day or month off a tag is written in words."""
    if value is None:
        return ""
    if unit == "" and len(value) in (len("2027-03"), len("2027-03-31")) and value[4] == "-":
        return day(value)
    return joined(value, unit, by="\u00a0")


def tally(stations: tuple[Station, ...]) -> str:
    """Count the answers over all stations: 42 Good, 1 Something's wrong."""
    counts = dict.fromkeys(ANSWERS, 0)
    for station in stations:
        for result in station.results:
            counts[result.answer] += 1
    return ", ".join(f"{count} {ANSWERS[key]}" for key, count in counts.items() if count)


def short_hash(sha256: str) -> str:
    """Return the first 16 hex digits in groups of four, as they are read out."""
    return " ".join(sha256[start : start + 4] for start in range(0, 16, 4))


def photo_alt(photo: Photo) -> str:
    """Say what a photo is of, for someone who does not see it."""
    return f"Photo {photo.number}: {joined(photo.item, photo.place, photo.caption)}"


def photo_numbers(numbers: tuple[int, ...]) -> str:
    """Name photos by number: photo 3, photos 3 and 4."""
    if not numbers:
        return ""
    names = [str(number) for number in numbers]
    head = ", ".join(names[:-1])
    return f"photo {names[0]}" if len(names) == 1 else f"photos {head} and {names[-1]}"
