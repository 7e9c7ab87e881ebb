"""The worked tables of docs/charges.md come out as printed. They were worked by hand; common practice, no source."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime, time
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from hire.charge_stop import charge_stops_at
from hire.charges import (
    AgreedHours,
    Cleaning,
    Docket,
    Fuel,
    Hire,
    HoursTerms,
    Item,
    Reading,
    StandDown,
    StandDownTerms,
    Terms,
    TyreDamage,
    WetTerms,
    best_rate,
    cents,
    charge,
)
from hire.charging.carriage import CarriageTerms, carried
from hire.charging.clock import Advance
from hire.charging.days import days_of
from hire.charging.money import day_words, joined
from hire.charging.out_reading import too_old

PAGE = Path(__file__).parents[2] / "docs" / "charges.md"
ADELAIDE = ZoneInfo("Australia/Adelaide")
OUT_AT = datetime(2026, 3, 2, 6, tzinfo=ADELAIDE)
BACK_AT = time(15)


def tables(heading: str) -> list[list[list[str]]]:
    section = PAGE.read_text(encoding="utf-8").split(f"## {heading}\n")[1].split("\n## ")[0]
    found, rows = [], []
    for line in [*section.splitlines(), ""]:
        if line.startswith("|"):
            rows.append([cell.strip() for cell in line.strip("|").split("|")])
        elif rows:
            found.append(rows[2:])
            rows = []
    return found


def local(words: str) -> datetime:
    return datetime.fromisoformat(words).replace(tzinfo=ADELAIDE)


def terms_of(words: str) -> Terms:  # noqa: C901, PLR0912 - one case a word of the tables
    """Terms as the tables write them: "best rate; minimum 7; pool week"."""
    given: dict = {
        "rates": {1: Decimal(290), 7: Decimal(1450)},
        "month_price": Decimal(5000),
        "rule": "best rate",
        "tax_rate": Decimal("0.1"),
    }
    rain: dict = {}
    for part in filter(None, words.split("; ")):
        match part.split():
            case ["fixed", "month"]:
                given |= {"rule": "fixed", "fixed_length": 0}
            case ["fixed", length]:
                given |= {"rule": "fixed", "fixed_length": int(length)}
            case ["minimum", days]:
                given["minimum_days"] = int(days)
            case ["calendar", "month", price]:
                given |= {"month": "calendar", "month_price": Decimal(price)}
            case [days, "days", "a", "week"]:
                given["days_in_week"] = int(days)
            case ["week", price]:
                given["rates"] = {1: Decimal(290), given["days_in_week"]: Decimal(price)}
            case ["no", "4", "weeks"]:
                given["month_price"] = None
            case ["day", "alone"]:
                given |= {"rates": {1: Decimal(290)}, "month_price": None}
            case ["holidays", "free"]:
                given["holidays_are_free"] = True
            case ["cut-off", hour]:
                given["cut_off"] = time.fromisoformat(hour)
            case ["rain", "at", price]:
                rain["price"] = Decimal(price)
            case ["cap", days]:
                rain["cap_days"] = int(days)
            case ["pool", *pool]:
                given["hours"] = HoursTerms(Decimal(8), "engine", " ".join(pool), Decimal(95))
            case ["by", clock, "pool", *pool]:
                given["hours"] = HoursTerms(Decimal(8), clock, " ".join(pool), Decimal(95))
            case ["shifts", shifts]:
                given["shifts_a_day"] = int(shifts)
            case ["shifts", shifts, "at", times]:
                given |= {"shifts_a_day": int(shifts), "shift_factors": {int(shifts): Decimal(times)}}
            case ["told", "by", hour]:
                rain["told_by"] = time.fromisoformat(hour)
            case ["most", hours]:
                rain["most_hours"] = Decimal(hours)
            case ["waiver", "a", "day", price]:
                given["waiver_day"] = Decimal(price)
            case ["waiver", share]:
                given["waiver_share"] = Decimal(share) / 100
            case ["re-rates"]:
                given["re_rates_on_early_return"] = True
            case ["wet", price]:
                given["wet"] = WetTerms(Decimal(price), overtime_after=Decimal(8), sunday=Decimal(2))
            case rule:
                given["rule"] = " ".join(rule)
    return Terms(**given, stand_down=StandDownTerms(**rain))


def gain(since: str, until: str, hours: str, out_at: datetime) -> Advance:
    return Advance("engine", local(since), local(until), Decimal(hours), out_from=out_at)


def hire_of(  # noqa: C901, PLR0912 - one case a word of the tables
    out_at: datetime, off_at: datetime | None, words: str = "", agreed: int | None = None
) -> Hire:
    """A hire with its facts as the tables write them: "rain 2026-03-10 06:30; worked 2026-03-07"."""
    facts: dict = {"holidays": set(), "worked_on": set()}
    facts |= {"readings": [], "advances": [], "stand_downs": [], "dockets": [], "agreed_hours": []}
    extras: list = []
    for part in filter(None, words.split("; ")):
        match part.split():
            case ["holiday", on]:
                facts["holidays"].add(date.fromisoformat(on))
            case ["worked", on]:
                facts["worked_on"].add(date.fromisoformat(on))
            case ["clock", on, hour, until_on, until, gained]:
                facts["advances"].append(gain(f"{on} {hour}", f"{until_on} {until}", gained, out_at))
            case ["read", on, hour, value]:
                facts["readings"].append(Reading(local(f"{on} {hour}"), Decimal(value)))
            case ["rain" | "breakdown" as why, on, hour]:
                facts["stand_downs"].append(StandDown(date.fromisoformat(on), why, local(f"{on} {hour}")))
            case ["rain", on, hour, "worked", hours]:
                claim = StandDown(
                    date.fromisoformat(on), "rain", local(f"{on} {hour}"), worked_hours=Decimal(hours)
                )
                facts["stand_downs"].append(claim)
            case ["agreed", days]:
                agreed = int(days)
            case ["agreed", first, last, hours]:
                span = date.fromisoformat(first), date.fromisoformat(last)
                facts["agreed_hours"].append(AgreedHours(*span, Decimal(hours), "as agreed"))
            case ["docket", on, hours]:
                facts["dockets"].append(Docket(on, date.fromisoformat(on), Decimal(hours)))
            case ["delivery", trips, price]:
                extras.append(Item("delivery", "Delivery", Decimal(trips), "trip", Decimal(price)))
            case ["cleaning", *numbers]:
                extras.append(Cleaning(*map(Decimal, numbers)))
            case ["untaxed", price]:
                extras.append(Item("fine", "Fine", Decimal(1), "notice", Decimal(price), is_taxed=False))
            case ["fuel", litres, price]:
                extras.append(Fuel("17", Decimal(litres), Decimal(price)))
            case unknown:
                pytest.fail(f"The table says {unknown}.")
    facts |= {"holidays": frozenset(facts["holidays"]), "worked_on": frozenset(facts["worked_on"])}
    return Hire(out_at, off_at, ADELAIDE, agreed_days=agreed, extras=extras, **facts)


def called_off(on: str) -> datetime:
    return datetime.combine(date.fromisoformat(on), BACK_AT, tzinfo=ADELAIDE)


def amounts(words: str) -> list[Decimal]:
    return [Decimal(each) for each in words.split(" + ")]


@pytest.mark.parametrize("row", tables("Least cover")[0], ids=" ".join)
def test_the_least_cover(row):
    days, rates, units, total = row
    card = {int(length): Decimal(price) for length, price in re.findall(r"(\d+): ([\d.]+)", rates)}
    found = best_rate(days=int(days), rates=card)
    assert " + ".join(f"{count} × {length}" for length, count in found.units.items()) == units
    assert str(found.total) == total


@pytest.mark.parametrize("row", tables("Days counted")[0], ids=" ".join)
def test_the_days_counted(row):
    out_at, off_at, terms, facts, last, days = row
    found = charge(hire_of(local(out_at), local(off_at), facts), terms=terms_of(terms))
    assert (found.through.isoformat(), found.hire_days, found.is_last) == (last, int(days), True)


@pytest.mark.parametrize("row", tables("What a clock proves")[0], ids=" ".join)
def test_what_a_clock_proves(row):
    since, until, gained, worked, unsure = row
    terms = terms_of("5 days a week; week 1160; no 4 weeks")
    hire = replace(hire_of(OUT_AT, called_off("2026-04-12")), advances=[gain(since, until, gained, OUT_AT)])
    found = days_of(hire, terms, None)
    outside = [on.isoformat() for on in found.stay if not found.week.is_ordinary(on)]
    assert " ".join(outside) == worked
    notes = [note for note in found.notes if "cannot be told" in note]
    days = [day_words(date.fromisoformat(on)) for on in unsure.split()]
    assert [note.split(" not charged")[0] for note in notes] == (
        [f"{joined(days)} {'is' if len(days) == 1 else 'are'}"] if days else []
    )


@pytest.mark.parametrize("row", tables("When a call stops the charge")[0], ids=lambda row: row[0])
def test_when_a_call_stops_the_charge(row):
    called, alike, open_days = map(local, row)
    assert charge_stops_at(called, cut_off=time(14), zone=ADELAIDE) == alike

    def is_closed(on: date) -> bool:
        return on.weekday() == 6 or on == date(2026, 3, 9)

    assert charge_stops_at(called, cut_off=time(14), zone=ADELAIDE, is_closed=is_closed) == open_days


@pytest.mark.parametrize("row", tables("Whole hires")[0], ids=lambda row: row[0])
def test_a_whole_hire(row):
    _case, off_on, terms, facts, lines, *sums = row
    found = charge(hire_of(OUT_AT, called_off(off_on), facts), terms=terms_of(terms))
    assert [line.amount for line in found.lines] == amounts(lines)
    assert [str(found.net), str(found.tax), str(found.total)] == sums


@pytest.mark.parametrize("row", tables("Hours nobody read")[0], ids=" ".join)
def test_hours_nobody_read_are_named(row):
    off_on, through, terms, facts, over, words = row
    hire, agreed = hire_of(OUT_AT, called_off(off_on), facts), terms_of(f"best rate; {terms}")
    found = charge(hire, terms=agreed, through=date.fromisoformat(through))
    assert sum(line.quantity for line in found.lines if line.key.startswith("hours")) == Decimal(over)
    assert found.hours_uncounted == words
    assert (words in found.notes) is bool(words)


@pytest.mark.parametrize("row", tables("Early return")[0], ids=" ".join)
def test_an_early_return(row):
    stayed, terms, charged, credit = row
    last = date(2026, 3, 1 + int(stayed.split(":")[0]))
    found = charge(hire_of(OUT_AT, called_off(last.isoformat()), agreed=28), terms=terms_of(terms))
    assert [str(found.net), str(found.early_return_credit)] == [charged, credit]


@pytest.mark.parametrize("row", tables("Interim documents")[0], ids=lambda row: row[0])
def test_interim_documents_add_up_to_the_whole(row):
    terms, ends, lines, whole = row
    *bills, off_on = ends.split("; ")
    hire, earlier, found = hire_of(OUT_AT, called_off(off_on)), [], []
    for through in [*map(date.fromisoformat, bills), None]:
        document = charge(hire, terms=terms_of(terms), through=through, earlier=earlier)
        earlier.append(document.billed)
        found.append([line.amount for line in document.lines])
    assert found == [amounts(document) for document in lines.split("; ")]
    assert sum(sum(document) for document in found) == Decimal(whole)
    assert charge(hire, terms=terms_of(terms)).net == Decimal(whole)


@pytest.mark.parametrize("row", tables("Tyre damage")[0], ids=" ".join)
def test_tyre_damage(row):
    fitted, new, out, change_out, call_out, charged = row
    out_mm = None if out == "none" else Decimal(out)
    tyre = TyreDamage(
        "left steer", Decimal(fitted), Decimal(new), out_mm, Decimal(change_out), Decimal(call_out)
    )
    line = tyre.line()
    assert ("none" if line is None else str(line.amount)) == charged
    assert bool(tyre.note()) is (line is None)


@pytest.mark.parametrize("row", tables("Tyre damage")[1], ids=" ".join)
def test_how_old_a_depth_may_be(row):
    read_at, km, words = row
    driven = None if km == "not read" else Decimal(km)
    assert too_old(local(read_at), local("2026-03-16 06:00"), driven) == words


@pytest.mark.parametrize("row", tables("Delivery and collection")[0], ids=" ".join)
def test_delivery_and_collection(row):
    there, back, by, km, cart, charged = row
    terms = CarriageTerms(*(Decimal(each) if each else None for each in (there, back)), by, Decimal(km or 0))
    lines = [item.line() for item in carried(terms, is_back=cart == "back")]
    assert " + ".join(str(line.amount) for line in lines) == charged.replace("none", "")


@pytest.mark.parametrize("row", tables("Rounding")[0], ids=" ".join)
def test_rounding(row):
    amount, rounded = row
    assert str(cents(Fraction(amount))) == rounded


@pytest.mark.parametrize("row", tables("Rounding")[1], ids=lambda row: row[0])
def test_tax_is_rounded_once_on_the_net(row):
    net, *taxes = row
    one = Item("one", "One thing", Decimal(1), "piece", Decimal(net))
    hire = Hire(OUT_AT, called_off("2026-03-02"), ADELAIDE, extras=[one])
    found = [
        charge(hire, terms=Terms("best rate", {1: Decimal(0)}, tax_rate=Decimal(rate)))
        for rate in ("0.1", "0.2", "0.0825")
    ]
    assert [str(each.tax) for each in found] == taxes
    assert all(each.total == each.net + each.tax == Decimal(net) + each.tax for each in found)
