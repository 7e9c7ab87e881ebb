"""The workshop's queue, its first page of 50 of 10,000 defects, against one raw SQL statement and a plain template.

    python -m tests.bench.bench_queue [--defects 10000] [--rounds 7]

Rows are made in a transaction that is rolled back. Both answer the same request inside the same frame (head, navigation,
alerts); the rival's rows are plain cells with no choice of a next step. The same defects in the same order are asserted
first. Read the ratio; the milliseconds are this machine's.
"""

import argparse
import datetime
import re
import uuid
from typing import Any

import django
from django.core.management import call_command
from django.test import RequestFactory
from django.test.utils import CaptureQueriesContext, override_settings
from django.utils import timezone

from tests.bench.timing import medians_ms

PAGE = 50
RAW = """
WITH need AS (
    SELECT DISTINCT ON (cart_id) cart_id, lower(promised) AS starts, handed_over_at IS NOT NULL AS is_out
    FROM hire_line
    WHERE cancelled_at IS NULL AND back_at IS NULL AND (handed_over_at IS NOT NULL OR upper(promised) > %(at)s)
    ORDER BY cart_id, (handed_over_at IS NOT NULL) DESC, promised
), queue AS (
    SELECT d.id, d.title, d.grade, d.state, d.station, d.place, d.due_on, d.told_at, c.fleet_number, c.id AS cart_id,
           a.full_name AS assigned,
           CASE WHEN n.cart_id IS NULL THEN NULL
                WHEN NOT n.is_out THEN n.starts - %(at)s
                WHEN d.grade = 'do_not_use' THEN greatest(n.starts, d.told_at) - %(at)s END AS left_to_go,
           CASE d.grade WHEN 'do_not_use' THEN interval '2 hours' WHEN 'by_date' THEN interval '1 hour'
                        ELSE interval '30 minutes' END AS repair
    FROM fleet_defect d JOIN fleet_cart c ON c.id = d.cart_id
    LEFT JOIN people_staff a ON a.id = d.assigned_to_id
    LEFT JOIN need n ON n.cart_id = d.cart_id
    WHERE d.closed_at IS NULL
)
SELECT *, count(*) OVER () AS whole FROM queue
ORDER BY CASE grade WHEN 'do_not_use' THEN 0 WHEN 'by_date' THEN 1 ELSE 2 END, left_to_go IS NULL,
         coalesce(left_to_go - repair, interval '0'), coalesce(due_on, '-infinity'::date), told_at, id
LIMIT %(page)s
"""
PLAIN = """{% extends "layouts/desk.html" %}{% block content %}<h1>Workshop</h1><p>{{ rows.0.whole }} open defects</p>
<table>{% for row in rows %}<tr><td><a href="/carts/{{ row.cart_id }}/">{{ row.fleet_number }}</a></td>
<td><a href="/workshop/{{ row.id }}/"><b>{{ row.title }}</b></a>
{{ row.station }} {{ row.place }} {{ row.grade }} {{ row.due_on }}</td>
<td>{{ row.left_to_go }} {{ row.repair }}</td><td>{{ row.state }} {{ row.assigned }} {{ row.told_at }}</td></tr>{% endfor %}</table>
{% endblock %}"""
ROW_LINK = re.compile(r'href="/workshop/([0-9a-f-]{36})/"><b>')


def make(count: int, *, at: datetime.datetime) -> Any:
    """Open defects of all grades over 400 carts, of which some are out, some promised and some neither; gives the reader."""
    from django.db.backends.postgresql.psycopg_any import DateTimeTZRange  # noqa: PLC0415 -- Django is set up first

    from fleet.models.defects import Defect  # noqa: PLC0415
    from hire.models import Line  # noqa: PLC0415
    from tests.factories.fleet import CartFactory  # noqa: PLC0415
    from tests.factories.hire import AgreementFactory  # noqa: PLC0415
    from tests.factories.people import StaffFactory  # noqa: PLC0415

    reader, fitter = StaffFactory(role="workshop_manager"), StaffFactory(role="fitter")
    carts = [CartFactory(layout__none=True, gear=(), meters=()) for _ in range(400)]
    agreement, hour = AgreementFactory(), datetime.timedelta(hours=1)
    Line.objects.bulk_create(
        Line(
            agreement=agreement,
            cart=cart,
            promised=DateTimeTZRange(at + (n - 60) * hour, at + (n + 100) * hour),
            handed_over_at=at + (n - 60) * hour if n < 60 else None,
        )
        for n, cart in enumerate(carts[:300])
    )
    Defect.objects.bulk_create(
        Defect(
            cart=carts[n % 400],
            title=f"Spray head weeps {n}",
            station="rear",
            grade=("do_not_use", "by_date", "watch")[n % 3],
            state=("reported", "assessed", "in_repair")[n % 7 % 3],
            due_on=at.date() + datetime.timedelta(days=n % 40) if n % 3 == 1 else None,
            source_kind="walk_round",
            source_id=uuid.uuid4(),
            told_at=at - n * hour / 10,
            told_by_words="Yard hand",
            assigned_to=fitter if n % 2 else None,
        )
        for n in range(count)
    )
    return reader


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--defects", type=int, default=10_000)
    parser.add_argument("--rounds", type=int, default=7)
    options = parser.parse_args()
    django.setup()
    call_command("migrate", verbosity=0)
    from django.db import connection, transaction  # noqa: PLC0415 -- Django is set up first
    from django.template import engines  # noqa: PLC0415

    from servicing import views  # noqa: PLC0415

    at = timezone.now()
    with transaction.atomic(), override_settings(ALLOWED_HOSTS=["testserver"]):
        reader = make(options.defects, at=at)
        connection.cursor().execute("ANALYZE")
        plain = engines["django"].from_string(PLAIN)
        request = RequestFactory().get("/workshop/")
        request.user, request.htmx, request._messages = reader, False, []  # type: ignore[assignment,attr-defined]

        def ours() -> str:
            return views.defect_list(request).content.decode()

        def rival() -> str:
            with connection.cursor() as cursor:
                cursor.execute(RAW, {"at": timezone.now(), "page": PAGE})
                names = [column[0] for column in cursor.description]
                rows = [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
            return plain.render({"rows": rows, "page_title": "Workshop"}, request)

        shown, wanted = ROW_LINK.findall(ours()), ROW_LINK.findall(rival())
        assert len(shown) == PAGE, f"{len(shown)} rows on our page."
        assert shown == wanted, "The two do not show the same defects in the same order."
        assert f"{options.defects} open defects" in ours()
        assert f"{options.defects} open defects" in rival()
        with CaptureQueriesContext(connection) as seen:
            ours()
        mine, theirs = medians_ms(options.rounds, ours, rival)
        print(
            f"page of {PAGE} of {options.defects} defects in {len(seen)} queries, the same rows in the same order"
        )
        print(
            f"queue {mine:.0f} ms, raw SQL and plain template {theirs:.0f} ms: ratio {mine / theirs:.1f} (aim 1.5)"
        )
        transaction.set_rollback(True)


if __name__ == "__main__":
    main()
