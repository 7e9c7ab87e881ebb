"""The workshop's queue, its first page of 50 of 10,000 defects, and what many carts have, against two raw SQL statements
and a plain template.

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
           coalesce(make_interval(mins => t.expected_minutes),
                    CASE d.grade WHEN 'do_not_use' THEN interval '2 hours' WHEN 'by_date' THEN interval '1 hour'
                                 ELSE interval '30 minutes' END) AS repair
    FROM fleet_defect d JOIN fleet_cart c ON c.id = d.cart_id
    LEFT JOIN servicing_repairtime t ON t.check_key = d.check_key AND t.grade = d.grade
    LEFT JOIN people_staff a ON a.id = d.assigned_to_id
    LEFT JOIN need n ON n.cart_id = d.cart_id
    WHERE d.closed_at IS NULL AND NOT (d.state = 'put_off' AND d.put_off_until > %(today)s)
)
SELECT *, count(*) OVER () AS whole FROM queue
ORDER BY CASE grade WHEN 'do_not_use' THEN 0 WHEN 'by_date' THEN 1 ELSE 2 END, left_to_go IS NULL,
         coalesce(left_to_go - repair, interval '0'), coalesce(due_on, '-infinity'::date), told_at, id
LIMIT %(page)s
"""
PATTERNS = """
SELECT check_key, count(DISTINCT cart_id) AS carts, max(title) AS title, min(told_at) AS since
FROM fleet_defect
WHERE check_key <> '' AND (closed_at IS NULL OR told_at >= %(at)s - interval '60 days')
      AND state NOT IN ('no_fault_found', 'same_as')
GROUP BY check_key
HAVING count(DISTINCT cart_id) > (SELECT count(*) FROM fleet_cart WHERE retired_on IS NULL) * 0.1
ORDER BY carts DESC, check_key LIMIT 3
"""
PLAIN = """{% extends "layouts/desk.html" %}{% block content %}<h1>Workshop</h1><p>{{ rows.0.whole }} open defects</p>
{% for one in patterns %}<p>{{ one.title }}: {{ one.carts }} carts since {{ one.since }}</p>{% endfor %}
<table>{% for row in rows %}<tr><td><a href="/carts/{{ row.cart_id }}/">{{ row.fleet_number }}</a></td>
<td><a href="/workshop/{{ row.id }}/"><b>{{ row.title }}</b></a>
{{ row.station }} {{ row.place }} {{ row.grade }} {{ row.due_on }}</td>
<td>{{ row.left_to_go }} {{ row.repair }}</td><td>{{ row.state }} {{ row.assigned }} {{ row.told_at }}</td></tr>{% endfor %}</table>
{% endblock %}"""
ROW_LINK = re.compile(r'href="/workshop/([0-9a-f-]{36})/"><b>')


def make(count: int, *, at: datetime.datetime) -> Any:
    """Open defects of all grades and 120 checks over 400 carts, of which some are out, some promised and some neither, and
    repair times of 90 of those checks; gives the reader."""
    from django.db.backends.postgresql.psycopg_any import DateTimeTZRange  # noqa: PLC0415 -- Django is set up first

    from fleet.models.defects import Defect  # noqa: PLC0415
    from hire.models.agreements import Line  # noqa: PLC0415
    from servicing.models.jobs import RepairTime  # noqa: PLC0415 -- as above
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
    RepairTime.objects.bulk_create(
        RepairTime(
            check_key=f"check-{n}",
            grade=grade,
            expected_minutes=20 + n * 3,
            repairs=n,
            low_minutes=20,
            high_minutes=60 + n,
            made_at=at,
        )
        for n in range(90)
        for grade in ("do_not_use", "by_date", "watch")
    )
    Defect.objects.bulk_create(
        Defect(
            cart=carts[n % 400],
            title=f"Spray head weeps {n}",
            station="rear",
            check_key=f"check-{n % 120}" if n % 5 else "",
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

    from people.yard import yard_day  # noqa: PLC0415
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

        def rows_of(sql: str) -> list[dict[str, Any]]:
            now = timezone.now()
            with connection.cursor() as cursor:
                cursor.execute(sql, {"at": now, "today": yard_day(now), "page": PAGE})
                names = [column[0] for column in cursor.description]
                return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

        def rival() -> str:
            found = {"rows": rows_of(RAW), "patterns": rows_of(PATTERNS), "page_title": "Workshop"}
            return plain.render(found, request)

        shown, wanted = ROW_LINK.findall(ours()), ROW_LINK.findall(rival())
        assert len(shown) == PAGE, f"{len(shown)} rows on our page."
        assert shown == wanted, "The two do not show the same defects in the same order."
        assert f"{options.defects:,} open defects" in ours()
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
