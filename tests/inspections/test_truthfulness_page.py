"""The page on truthfulness prints the rules that are used: its signs, its figures and its worked cases are computed anew."""

from dataclasses import fields, replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from inspections.chance import compare
from inspections.sign_rules import Rules, explain
from inspections.truthfulness import signs
from inspections.walk_facts import History
from tests.inspections.walk_samples import groups_of, looks, walk

PAGE = Path(__file__).parents[2] / "docs" / "truthfulness.md"


def table(first: str) -> list[list[str]]:
    """The rows of the table whose first heading this is."""
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith(f"| {first} |")) + 2
    rows = []
    for line in lines[start:]:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip("|").split("|")])
    return rows


def test_each_figure_is_the_one_used():
    printed = {name: Fraction(figure) for name, figure, _ in table("figure")}
    used = {field.name: Fraction(getattr(Rules(), field.name)) for field in fields(Rules)}
    assert printed.keys() == used.keys()
    for name, figure in printed.items():
        assert float(used[name]) == pytest.approx(float(figure), abs=1e-20), name


def test_each_sign_is_one_there_is():
    codes = [code for code, _, _ in table("sign")]
    assert all(explain(code, Rules()).rule for code in codes)
    assert len(codes) == 8


def test_each_worked_pace_is_asked_about_as_printed():
    rows = table("looks taken")
    assert len(rows) == 6
    for count, reckoned, seconds, asked in rows:
        taken = looks(int(count), each=timedelta(seconds=int(seconds)) / int(count))
        timed = tuple(replace(one, minutes=Decimal(reckoned) / int(count)) for one in taken)
        assert [sign.code for sign in signs(walk(timed), History())] == (
            ["pace"] if asked == "yes" else []
        ), count


def test_each_worked_comparison_comes_out_as_printed():
    rows = table("groups (told of walked, others)")
    assert len(rows) == 3
    for groups, person, others, expected, keeps_to, few, many in rows:
        beside = compare(groups_of(groups))
        assert f"{beside.hits} of {beside.tries}" == person
        assert f"{beside.other_hits} of {beside.other_tries}" == others
        assert f"{beside.expected:.1f}" == expected
        assert f"{beside.low} to {beside.high}" == keeps_to
        for printed, exact in ((few, beside.at_most), (many, beside.at_least)):
            digits = len(printed.partition(".")[2])
            assert f"{exact:.{digits}f}" == printed
