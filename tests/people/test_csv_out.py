"""A table as a file: read back as it was, never a formula, days and instants ISO."""

import csv
import io
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from people.csv_out import cell, csv_response, wants_csv


@pytest.mark.parametrize(
    "hostile",
    [
        "=1+1",
        '=HYPERLINK("http://site.example","pay")',
        "+61 8 5550 2231",
        "-2+3",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "\n=1",
        " =1+1",
        "%0A",
        "|run",
        "＝1+1",
        "＠SUM",
    ],
)
def test_text_never_begins_as_a_formula(hostile):
    assert cell(hostile) == f"'{hostile}"


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (None, ""),
        (True, "yes"),
        (False, "no"),
        (-3, "-3"),
        (-2.5, "-2.5"),
        (Decimal("-1250.50"), "-1250.50"),
        (Decimal("1E+3"), "1000"),
        (date(2026, 12, 1), "2026-12-01"),
        (datetime(2026, 11, 30, 21, 0, 5, 99, tzinfo=UTC), "2026-12-01T07:30:05+10:30"),
        ("12,000–16,000 L", "12,000–16,000 L"),
        ("a\x00b", "ab"),
        ("5 = five", "5 = five"),
    ],
)
def test_each_kind_of_value(value, written):
    assert cell(value) == written


def test_the_file_is_read_back_as_it_was():
    rows = [["WC-11", 'Merrin "& sons", Ltd', "two\nlines"], ["WC-12", "Ösp, 5 m²", None]]
    answer = csv_response("carts", ["Cart", "Who", "Words"], rows)
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Content-Disposition"] == 'attachment; filename="carts.csv"'
    assert answer.content.startswith(b"\xef\xbb\xbf")
    read = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"), newline="")))
    assert read == [["Cart", "Who", "Words"], rows[0], ["WC-12", "Ösp, 5 m²", ""]]


@pytest.mark.parametrize(
    ("ask", "wanted"),
    [("get", True), ("head", True), ("post", False)],
)
def test_only_what_is_read_is_asked_for_as_a_file(rf, ask, wanted):
    assert wants_csv(getattr(rf, ask)("/carts/?as=csv")) is wanted
    assert wants_csv(getattr(rf, ask)("/carts/")) is False


@pytest.mark.parametrize(
    ("query", "table", "wanted"),
    [
        ("?as=csv&table=passes", "passes", True),
        ("?as=csv&table=tags", "passes", False),
        ("?as=csv", "passes", False),
        ("?table=passes", "passes", False),
        ("?as=csv&table=passes", "", True),
    ],
)
def test_a_page_of_several_tables_is_asked_for_one_by_its_name(rf, query, table, wanted):
    assert wants_csv(rf.get(f"/workshop/holds/{query}"), table) is wanted
