"""Reading the plain form of a check, and refusing it in a sentence where it is not well written."""

import re
from collections.abc import Callable, Collection, Mapping
from contextlib import suppress
from decimal import Decimal, InvalidOperation

from fleet.lap.stations import STATION_KEYS
from inspections.check import (
    NO_SOURCE,
    TEXT_MOST,
    TITLE_MOST,
    Check,
    CheckRefused,
    Choice,
    RuleLimit,
    isolable_gear,
)
from inspections.limits import Limit, decimal_of
from inspections.vocabulary import (
    ALWAYS_SEEN_TWICE,
    ANSWER_KINDS,
    FACTS,
    GRADE_KEYS,
    PASSES,
    PLACE_KINDS,
    PURPOSE_KEYS,
    RULE_SETS,
    SECOND_LOOKS,
    SYSTEMS,
    WHEEL_STATIONS,
)

FIELDS = frozenset(
    {
        "key", "family", "station", "stations", "title", "look_for", "sound", "if_not", "grade", "answer", "pass",
        "minutes", "asked", "needs", "each", "last", "required", "may_be_absent", "photo", "second_look", "system",
        "basis", "unit", "limit", "limit_from", "choices", "gear",
    }
)  # fmt: skip
KEY_MOST = 80
CHOICE_MOST = 28
UNIT_MOST = 12
MINUTES_MOST = Decimal(15)

_KEY = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_BASIS_ROW = r"[A-Z]{2}-[0-9]{2} (VERIFIED-[PSR]|COMPUTED)"
_BASIS = re.compile(rf"{NO_SOURCE}|{_BASIS_ROW}(, {_BASIS_ROW})*")

Body = Mapping[str, object]


def checks_of(body: Body, *, stations: Collection[str] = STATION_KEYS) -> tuple[Check, ...]:
    """The checks a body stands for: one, or one at each of its `stations`, in lap order.

    stations: those this body may be written for. CheckRefused, with a sentence, for anything not well written.
    """
    reader = _Reader(body)
    reader.only_known_fields()
    written = reader.texts("stations") if "stations" in body else (reader.text("station"),)
    if not written or len(set(written)) != len(written):
        raise reader.refusal("names no station, or one of them twice")
    for station in written:
        if station not in stations:
            raise reader.refusal(f"has no place here for “{station}”: use one of {', '.join(stations)}")
    in_order = [key for key in STATION_KEYS if key in written]
    return tuple(_check(reader, station, spread="stations" in body) for station in in_order)


def _check(reader: "_Reader", station: str, *, spread: bool) -> Check:
    key = f"{reader.key}-{station.replace('_', '-')}" if spread else reader.key
    if len(key) > KEY_MOST:
        raise reader.refusal(
            f"has a key of {len(key)} letters with its station; at most {KEY_MOST} can be kept"
        )
    system = reader.word("system", SYSTEMS)
    needs = reader.needs()
    units = reader.units()
    check = Check(
        key=key,
        family=reader.key if spread else reader.text("family", usual=reader.key),
        station=station,
        title=reader.text("title", most=TITLE_MOST),
        look_for=reader.text("look_for", most=TEXT_MOST),
        sound=reader.text("sound", most=TEXT_MOST),
        if_not=reader.text("if_not", most=TEXT_MOST),
        grade=reader.word("grade", GRADE_KEYS),
        answer=reader.word("answer", ANSWER_KINDS, usual="sound"),
        walk_pass=reader.walk_pass(),
        minutes=reader.minutes(),
        asked=reader.words("asked", PURPOSE_KEYS),
        needs=needs,
        each=reader.word("each", ("", *PLACE_KINDS), usual=""),
        last=reader.flag("last"),
        required=reader.flag("required"),
        may_be_absent=reader.flag("may_be_absent"),
        photo=reader.flag("photo"),
        second_look=reader.word(
            "second_look", SECOND_LOOKS, usual="always" if system in ALWAYS_SEEN_TWICE else "later"
        ),
        system=system,
        basis=reader.basis(),
        units=units,
        limits=reader.limits(dict(units)),
        limit_from=reader.word("limit_from", ("", "tread"), usual=""),
        choices=reader.choices(),
        gear=reader.gear(needs),
    )
    for complaint, is_so in _COMPLAINTS:
        if is_so(check):
            raise reader.refusal(complaint)
    return check


def _is_out_of_place(check: Check) -> bool:
    return check.each in ("tyre", "hub") and check.station not in WHEEL_STATIONS


_COMPLAINTS: tuple[tuple[str, Callable[[Check], bool]], ...] = (
    ("is measured and lacks a unit for some rule set", lambda c: c.answer == "measure" and len(c.units) < len(RULE_SETS)),
    ("gives a unit and is not measured", lambda c: c.answer != "measure" and bool(c.units)),
    ("gives a limit and is not measured", lambda c: c.answer != "measure" and bool(c.limits or c.limit_from)),
    ("takes its limit from two places", lambda c: bool(c.limits and c.limit_from)),
    ("takes its limit from the tyre and is not asked at each tyre", lambda c: bool(c.limit_from) and c.each != "tyre"),
    ("is a choice with fewer than two choices", lambda c: c.answer == "choice" and len(c.choices) < 2),
    ("is a choice with nothing sound in it", lambda c: c.answer == "choice" and all(one.grade for one in c.choices)),
    ("lists choices and is not a choice", lambda c: c.answer != "choice" and bool(c.choices)),
    ("names one choice twice", lambda c: len({one.key for one in c.choices}) != len(c.choices)),
    ("is asked at each wheel from a station without wheels", _is_out_of_place),
    (
        "has to be seen twice: brakes, steering, wheels and emergency stops always are",
        lambda c: c.system in ALWAYS_SEEN_TWICE and c.second_look != "always",
    ),
)  # fmt: skip


class _Reader:
    """One body and its fields, each read with the refusal it deserves."""

    def __init__(self, body: Body) -> None:
        self.body = body
        key = body.get("key")
        if not (isinstance(key, str) and _KEY.fullmatch(key) and len(key) <= KEY_MOST):
            raise CheckRefused(
                f"The key {key!r} is not small letters, digits and hyphens, as in “wheel-nuts”."
            )
        self.key = key

    def refusal(self, complaint: str) -> CheckRefused:
        return CheckRefused(f"The check “{self.key}” {complaint}.")

    def only_known_fields(self) -> None:
        spare = sorted(self.body.keys() - FIELDS)
        if spare:
            raise self.refusal(f"has a field nobody reads: {', '.join(spare)}")

    def text(self, name: str, *, usual: str | None = None, most: int = KEY_MOST) -> str:
        found = self.body.get(name, usual)
        if not isinstance(found, str) or not found.strip() or found != found.strip():
            raise self.refusal(f"has no “{name}”, or one with spaces round it")
        if len(found) > most:
            raise self.refusal(
                f"has a “{name}” of {len(found)} letters; at most {most} can be read with a glove on"
            )
        return found

    def word(self, name: str, words: Collection[str], *, usual: str | None = None) -> str:
        found = self.body.get(name, usual)
        if isinstance(found, str) and found in words:
            return found
        if found is None:
            raise self.refusal(f"has no “{name}”")
        raise self.refusal(
            f"has the {name} {found!r}: use one of {', '.join(word for word in words if word)}"
        )

    def texts(self, name: str) -> tuple[str, ...]:
        found = self.body.get(name, [])
        if isinstance(found, list | tuple) and all(isinstance(one, str) for one in found):
            return tuple(found)
        raise self.refusal(f"needs a list of words for “{name}”")

    def words(self, name: str, words: Collection[str]) -> tuple[str, ...]:
        found = self.texts(name)
        if not found or len(set(found)) != len(found):
            raise self.refusal(f"has no “{name}”, or one word of it twice")
        for one in found:
            if one not in words:
                raise self.refusal(f"has {one!r} among “{name}”: use {', '.join(words)}")
        return tuple(sorted(found, key=list(words).index))

    def flag(self, name: str) -> bool:
        found = self.body.get(name, False)
        if isinstance(found, bool):
            return found
        raise self.refusal(f"needs true or false for “{name}”")

    def walk_pass(self) -> int:
        found = self.body.get("pass")
        if isinstance(found, int) and not isinstance(found, bool) and found in {one.number for one in PASSES}:
            return found
        raise self.refusal(f"is on pass {found!r}: use 1 to {len(PASSES)}")

    def minutes(self) -> Decimal:
        found = self.body.get("minutes")
        minutes = Decimal("NaN")
        if isinstance(found, str | int | Decimal) and not isinstance(found, bool):
            with suppress(InvalidOperation):
                minutes = Decimal(found)
        if minutes.is_finite() and 0 < minutes <= MINUTES_MOST:
            return minutes
        raise self.refusal(f"takes {found!r} minutes: give a number above 0 and at most {MINUTES_MOST}")

    def needs(self) -> tuple[str, ...]:
        terms = self.texts("needs")
        for term in terms:
            words = [term[1:]] if term.startswith("!") else term.split("|")
            for word in words:
                if word not in FACTS:
                    raise self.refusal(f"needs “{word}”, which no cart can have")
        return terms

    def gear(self, needs: tuple[str, ...]) -> str:
        found = self.body.get("gear", "")
        if isinstance(found, str) and found in {"", *isolable_gear(needs)}:
            return found
        raise self.refusal(
            f"can’t let the cart go without {found!r}: it isn’t needed here, or may not be isolated"
        )

    def basis(self, found: object = None) -> str:
        basis = self.body.get("basis") if found is None else found
        if isinstance(basis, str) and _BASIS.fullmatch(basis):
            return basis
        raise self.refusal(
            f"rests on {basis!r}: give a row with its tag, as in “TY-09 VERIFIED-S”, or “{NO_SOURCE}”"
        )

    def units(self) -> tuple[tuple[str, str], ...]:
        found = self.body.get("unit", {})
        table = dict.fromkeys(RULE_SETS, found) if isinstance(found, str) else found
        if not isinstance(table, Mapping):
            raise self.refusal("needs a unit, or one for each rule set")
        pairs = tuple((rule_set, table[rule_set]) for rule_set in RULE_SETS if rule_set in table)
        are_short = all(isinstance(unit, str) and 0 < len(unit) <= UNIT_MOST for _, unit in pairs)
        if len(pairs) != len(table) or not are_short:
            raise self.refusal(f"has a unit over {UNIT_MOST} letters, or for none of {', '.join(RULE_SETS)}")
        return pairs

    def limits(self, units: Mapping[str, str]) -> tuple[RuleLimit, ...]:
        found = self.body.get("limit", {})
        if not isinstance(found, Mapping):
            raise self.refusal("has a limit that is no table")
        table = dict.fromkeys(RULE_SETS, found) if "op" in found else found
        if table.keys() - set(RULE_SETS):
            raise self.refusal(f"has a limit for a rule set that is none of {', '.join(RULE_SETS)}")
        return tuple(
            self.limit(rule_set, table[rule_set], units) for rule_set in RULE_SETS if rule_set in table
        )

    def limit(self, rule_set: str, found: object, units: Mapping[str, str]) -> RuleLimit:
        if not isinstance(found, Mapping) or found.keys() - {"op", "value", "high", "unit", "grade", "basis"}:
            raise self.refusal("has a limit with a part nobody reads, or one that is no table")
        unit = units.get(rule_set, "")
        if found.get("unit", unit) != unit:
            raise self.refusal("has a limit in another unit than the value is entered in")
        try:
            high = found.get("high")
            limit = Limit(
                op=str(found.get("op")),
                value=decimal_of(str(found.get("value"))),
                high=None if high is None else decimal_of(str(high)),
                unit=unit,
                grade=str(found.get("grade")),
            )
        except ValueError as error:
            raise CheckRefused(f"The check “{self.key}”: {error}") from error
        return RuleLimit(rule_set, limit, self.basis(found.get("basis")))

    def choices(self) -> tuple[Choice, ...]:
        found = self.body.get("choices", [])
        if not isinstance(found, list | tuple):
            raise self.refusal("needs a list of choices")
        return tuple(self.choice(one) for one in found)

    def choice(self, found: object) -> Choice:
        if not isinstance(found, Mapping) or found.keys() - {"key", "label", "grade"}:
            raise self.refusal("has a choice with a part nobody reads, or one that is no table")
        key, label, grade = found.get("key"), found.get("label"), found.get("grade")
        if not (isinstance(key, str) and _KEY.fullmatch(key)):
            raise self.refusal(f"has a choice with the key {key!r}")
        if not (isinstance(label, str) and 0 < len(label) <= CHOICE_MOST):
            raise self.refusal(f"has a choice without words, or with more than {CHOICE_MOST} letters")
        if grade is not None and grade not in GRADE_KEYS:
            raise self.refusal(f"has a choice with the grade {grade!r}")
        return Choice(key, label, grade if isinstance(grade, str) else None)
