"""Outside checks of the library: every basis is a row of docs/sources.md, and every figure judged is as published."""

import re
from decimal import Decimal
from pathlib import Path

import pytest

from fleet.tread_limits import legal_limit
from inspections.check import NO_SOURCE, Check, RuleLimit
from inspections.library import library
from inspections.vocabulary import RULE_SETS

PAGE = Path(__file__).parents[2] / "docs" / "sources.md"
ROW = re.compile(r"\| ([A-Z]{2}-[0-9]{2}) \|(.*)\|")


def rows() -> dict[str, list[str]]:
    """Each row of the page by its id: what it says, figure, where it is published, tag."""
    found = [
        match.groups()
        for line in PAGE.read_text(encoding="utf-8").splitlines()
        if (match := ROW.fullmatch(line))
    ]
    assert len({key for key, _ in found}) == len(found), "a row is given twice"
    return {key: [cell.strip() for cell in cells.split("|")] for key, cells in found}


ROWS = rows()
FAMILIES = {check.family: check for check in library()}


def cited(basis: str) -> list[tuple[str, str]]:
    """The (row, tag) pairs a basis names; none for the yard's own sense."""
    if basis == NO_SOURCE:
        return []
    return [(row, tag) for row, _, tag in (one.partition(" ") for one in basis.split(", "))]


@pytest.mark.parametrize("family", FAMILIES)
def test_every_basis_is_a_row_of_the_page_with_its_own_tag(family: str) -> None:
    check = FAMILIES[family]
    for basis in (check.basis, *(limit.basis for limit in check.limits)):
        for row, tag in cited(basis):
            assert row in ROWS, f"{family} rests on {row}, which the page doesn't have"
            assert ROWS[row][-1] == tag, f"{family} gives {row} another tag than the page"


def test_a_fair_part_of_the_library_rests_on_something_published() -> None:
    assert sum(bool(cited(check.basis)) for check in FAMILIES.values()) >= 30


def test_every_row_is_used_and_whole() -> None:
    used = {row for check in FAMILIES.values() for row, _ in cited(check.basis)}
    used |= {row for check in FAMILIES.values() for limit in check.limits for row, _ in cited(limit.basis)}
    # The three grades rest on these two; no single check does.
    assert set(ROWS) == used | {"TR-01", "TR-03"}
    for row, (says, _figure, where, tag) in ROWS.items():
        assert says, row
        assert where, row
        assert tag in {"VERIFIED-P", "VERIFIED-S", "VERIFIED-R"}, row


PUBLISHED_LIMITS = [
    (check, limit) for check in FAMILIES.values() for limit in check.limits if limit.basis != NO_SOURCE
]


@pytest.mark.parametrize(
    ("check", "limit"),
    [pytest.param(c, limit, id=f"{c.family} {limit.rule_set}") for c, limit in PUBLISHED_LIMITS],
)
def test_a_limit_with_a_source_is_the_figure_of_one_of_its_rows(check: Check, limit: RuleLimit) -> None:
    assert limit.limit.words in {ROWS[row][1] for row, _ in cited(limit.basis)}


# Every limit in force, written down apart from the library. None: no figure is published or set, judged by the book.
IN_FORCE = [
    # AB-01 VERIFIED-S, US commercial driver's manual section 5: under 2 psi a minute, single vehicle
    ("air-lost", "us", "<", "2", None, "psi", "AB-01 VERIFIED-S"),
    ("air-lost", "au", "<", "14", None, "kPa", NO_SOURCE),
    ("air-lost", "uk", "<", "0.14", None, "bar", NO_SOURCE),
    # AB-02 VERIFIED-S, same: at most 3 psi a minute with the pedal held
    ("air-lost-on-pedal", "us", "<=", "3", None, "psi", "AB-02 VERIFIED-S"),
    ("air-lost-on-pedal", "au", "<=", "20", None, "kPa", NO_SOURCE),
    ("air-lost-on-pedal", "uk", "<=", "0.2", None, "bar", NO_SOURCE),
    # AB-03 VERIFIED-S, same, older text: before it is under 60 psi
    ("low-air-warning", "us", ">=", "60", None, "psi", "AB-03 VERIFIED-S"),
    # AB-15 VERIFIED-S, Australian inspection guidance: by 420 kPa on vehicles built to ADR 35
    ("low-air-warning", "au", ">=", "420", None, "kPa", "AB-15 VERIFIED-S"),
    # AB-06 VERIFIED-S, US commercial driver's manual: 85 to 100 psi within 45 s, dual system
    ("air-build-up", "us", "<=", "45", None, "s", "AB-06 VERIFIED-S"),
    ("air-build-up", "au", "<=", "45", None, "s", NO_SOURCE),
    ("air-build-up", "uk", "<=", "45", None, "s", NO_SOURCE),
    # AB-09 VERIFIED-S, US driver test script, newer: 120 to 140 psi
    ("air-cut-out", "us", "between", "120", "140", "psi", "AB-09 VERIFIED-S"),
    # WH-07 VERIFIED-R, 49 CFR 396 Appendix A item 1: at most 80 % of the rated stroke
    ("push-rod", "us", "<=", "80", None, "% of rated", "WH-06 VERIFIED-R, WH-07 VERIFIED-R"),
    ("push-rod", "au", "<=", "80", None, "% of rated", NO_SOURCE),
    ("push-rod", "uk", "<=", "80", None, "% of rated", NO_SOURCE),
    *(("nut-torque", rule_set, "<=", "0", None, "nuts", NO_SOURCE) for rule_set in RULE_SETS),
]


def test_the_limits_in_force_are_these_and_no_others() -> None:
    def as_row(check: Check, one: RuleLimit) -> tuple[str, str, str, Decimal, Decimal | None, str, str]:
        limit = one.limit
        return (check.family, one.rule_set, limit.op, limit.value, limit.high, limit.unit, one.basis)

    found = {as_row(check, limit) for check in FAMILIES.values() for limit in check.limits}
    assert found == {
        (family, rule_set, op, Decimal(value), None if high is None else Decimal(high), unit, basis)
        for family, rule_set, op, value, high, unit, basis in IN_FORCE
    }


@pytest.mark.parametrize(
    ("us_psi", "other", "per_psi"),
    [
        # AB-18, arithmetic: 1 psi is 6.894757 kPa. A figure carried over is never the looser one by more than a gauge shows.
        ("2", "14", "6.894757"),
        ("3", "20", "6.894757"),
        ("2", "0.14", "0.06894757"),
        ("3", "0.2", "0.06894757"),
    ],
)
def test_figures_carried_over_to_other_gauges_are_the_same_figures(
    us_psi: str, other: str, per_psi: str
) -> None:
    exact = Decimal(us_psi) * Decimal(per_psi)
    assert abs(Decimal(other) - exact) / exact < Decimal("0.04")


@pytest.mark.parametrize(
    ("row", "rule_set", "position"),
    [
        ("TY-01", "us", "steer"),
        ("TY-02", "us", "other"),
        ("TY-07", "uk", "steer"),
        ("TY-07", "uk", "other"),
        ("TY-09", "au", "steer"),
        ("TY-09", "au", "other"),
    ],
)
def test_the_tread_rows_give_the_depths_that_are_used(row: str, rule_set: str, position: str) -> None:
    limit = legal_limit(rule_set=rule_set, position=position)
    assert ROWS[row][1] == f"{limit.depth_mm} mm or more"
    assert limit.source.startswith(f"{row}, ")
    assert row in dict(cited(FAMILIES["tread"].basis))


def test_an_extinguisher_is_looked_at_at_least_as_often_as_published() -> None:
    """FE-20 VERIFIED-R and FE-40 VERIFIED-S: once a month; its tag carries the marks of FE-50 VERIFIED-S."""
    assert "daily" in FAMILIES["extinguisher"].asked
    assert "monthly" in FAMILIES["extinguisher-tag"].asked
    assert {"FE-20", "FE-40"} <= dict(cited(FAMILIES["extinguisher"].basis)).keys()
    assert {"FE-20", "FE-40", "FE-50"} <= dict(cited(FAMILIES["extinguisher-tag"].basis)).keys()


@pytest.mark.parametrize(
    ("family", "row", "words"),
    [
        # TY-10 VERIFIED-S: not over ten years old on a front axle
        ("steer-tyre-age", "TY-10", "under ten years old"),
        # TY-23 VERIFIED-S: overall diameters of a pair within 25 mm
        ("matched-duals", "TY-23", "within 25 mm"),
        # TY-03 VERIFIED-P: not measured on bars
        ("tread", "TY-03", "clear of wear bars"),
        # WH-06 VERIFIED-R: stroke read at 80 to 90 psi
        ("push-rod", "WH-06", "80 to 90 psi"),
        # WN-01 VERIFIED-S: again after 30 minutes or from 40 km
        ("nut-torque", "WN-01", "40 km or half an hour"),
        # SF-07, SF-08 VERIFIED-P: once a year
        ("backflow-device", "SF-07", "within the year"),
        # SF-09 VERIFIED-P: letters 150 mm or more
        ("drinking-water-seals", "SF-09", "150 mm or more"),
        # SF-02 VERIFIED-P: copy the plate
        ("rollover-plate", "SF-02", "don’t guess a standard"),
        # AB-06 VERIFIED-S: from 85 to 100 psi
        ("air-build-up", "AB-06", "85 to 100 psi"),
        # AB-02 VERIFIED-S: 90 psi on the pedal, after the first drop
        ("air-lost-on-pedal", "AB-02", "from 90 psi; after the first drop"),
    ],
)
def test_a_figure_in_the_words_is_the_row_s(family: str, row: str, words: str) -> None:
    check = FAMILIES[family]
    assert words in f"{check.look_for} {check.sound} {check.if_not}"
    assert row in dict(cited(check.basis))
