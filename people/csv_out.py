"""Tables as a file of comma-separated values, for a spreadsheet or a script.

A byte order mark goes first: a spreadsheet that is handed the file by a double click takes it for its own old code page
without one and spoils every dash and accent, and scripts skip it when they read "utf-8-sig". Days and instants are ISO
(instants by the yard's clock, with their offset), numbers bare, lines end as RFC 4180 says.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.http import HttpRequest, HttpResponse

from people.say import say
from people.yard import yard_policy

# A spreadsheet reckons a cell that begins so, whoever typed it: a customer's name must stay a name. The wide forms count too.
FORMULA_STARTS = frozenset("=+-@|%\t\r\n＝＋－＠")


def wants_csv(request: HttpRequest, table: str = "") -> bool:
    """Whether the table is asked for as a file, by ?as=csv; on a page of several, by its name besides (&table=passes).
    What is posted is acted on, whatever its address says."""
    is_asked = request.method != "POST" and request.GET.get("as") == "csv"
    return is_asked and table in ("", request.GET.get("table"))


def csv_response(name: str, head: Sequence[str], rows: Iterable[Sequence[object]]) -> HttpResponse:
    """The rows under their head as a file to save; `name` is the file's, without its ending, in plain letters."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([cell(each) for each in head])
    writer.writerows([cell(each) for each in row] for row in rows)
    answer = HttpResponse(text.getvalue().encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


def cell(value: object) -> str:
    """One value as it is written: nothing for None, yes or no for a truth, text never as a formula."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.astimezone(yard_policy().zone).isoformat(timespec="seconds")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, int | float):
        return str(value)
    text = say(str(value)).replace("\x00", "")
    starts = {text[:1], text.lstrip()[:1]}
    return f"'{text}" if starts & FORMULA_STARTS else text
