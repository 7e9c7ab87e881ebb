"""The sweep over a yard of 10,000 carts against the statements its rules ask the database, replayed raw.

    python -m tests.bench.bench_sweep [--carts 10000] [--rounds 5] [--profile]

Rows are made in a transaction that is rolled back. Asserted first: no rule fails; a second sweep changes no row and writes
nothing but its own; as many queries for a hundred carts as for all; the extinguishers near due are those one raw statement
finds. The rival sends each rule's own statements once and fetches the rows, and does nothing with them.
Read the ratio; the milliseconds are this machine's.
"""

import argparse
import cProfile
import datetime
import pstats
from collections.abc import Callable

import django
from django.core.management import call_command
from django.test.utils import CaptureQueriesContext

from tests.bench.timing import medians_ms

NOW = datetime.datetime(2026, 11, 30, 21, 0, tzinfo=datetime.UTC)
# The Australian rules, by hand: six and twelve months on the tag, five years of pressure.
EXTINGUISHERS = """
SELECT e.id FROM fleet_extinguisher e JOIN fleet_cart c ON c.id = e.cart_id
LEFT JOIN fleet_extinguisherservice s ON s.extinguisher_id = e.id AND s."on" <= %(on)s
WHERE c.retired_on IS NULL
GROUP BY e.id HAVING e.is_discharged OR least(
    coalesce(max(s."on") FILTER (WHERE s.kind IN ('routine_6_month', 'routine_12_month', 'pressure_test')), e.made_on)
        + interval '6 months',
    coalesce(max(s."on") FILTER (WHERE s.kind IN ('routine_12_month', 'pressure_test')), e.made_on) + interval '12 months',
    coalesce(max(s."on") FILTER (WHERE s.kind = 'pressure_test'), e.made_on) + interval '60 months'
) <= %(by)s
"""
NO_WRITE = ("SELECT", "SAVEPOINT", "RELEASE")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--carts", type=int, default=10_000)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--profile", action="store_true")
    options = parser.parse_args()
    django.setup()
    call_command("migrate", verbosity=0)
    from django.db import connection, transaction  # noqa: PLC0415 -- Django is set up first

    from fleet.alerts.actions import sweep  # noqa: PLC0415
    from fleet.alerts.models import Alert, SweepRun, Telling  # noqa: PLC0415
    from fleet.alerts.rules import rules  # noqa: PLC0415
    from people.yard import yard_day, yard_policy  # noqa: PLC0415
    from tests.factories.yard_of_carts import many_carts  # noqa: PLC0415

    def asked_by(work: Callable[[], object]) -> list[str]:
        with CaptureQueriesContext(connection) as seen:
            work()
        return [query["sql"] for query in seen]

    def look() -> None:
        run = sweep(at=NOW)
        assert run is not None
        assert not run.failed_rules, run.failed_rules

    with transaction.atomic():
        many_carts(100, at=NOW)
        look()
        few = len(asked_by(look))
        transaction.set_rollback(True)
    with transaction.atomic():
        many_carts(options.carts, at=NOW)
        connection.cursor().execute("ANALYZE")
        look()
        connection.cursor().execute("ANALYZE")
        before = (
            list(Alert.objects.order_by("pk").values_list()),
            list(Telling.objects.order_by("pk").values_list()),
        )
        asked = asked_by(look)
        assert before == (
            list(Alert.objects.order_by("pk").values_list()),
            list(Telling.objects.order_by("pk").values_list()),
        )
        writes = [sql for sql in asked if not sql.startswith(NO_WRITE)]
        assert [SweepRun._meta.db_table in sql for sql in writes] == [True], writes
        assert len(asked) == few, f"{few} queries at 100 carts, {len(asked)} at {options.carts}"
        found = {name: list(find(NOW)) for name, find in sorted(rules().items())}
        on = yard_day(NOW)
        given = {"on": on, "by": on + yard_policy().extinguisher_lead}
        with connection.cursor() as cursor:
            cursor.execute(EXTINGUISHERS, given)
            wanted = {row[0] for row in cursor.fetchall()}
        assert {one.subject_id for one in found["servicing.extinguisher_due"]} == wanted
        statements = {name: asked_by(lambda find=find: list(find(NOW))) for name, find in rules().items()}

        def raw(these: list[str]) -> None:
            with connection.cursor() as cursor:
                for sql in these:
                    cursor.execute(sql.replace("%", "%%"), ())
                    cursor.fetchall()

        for name, find in sorted(rules().items()):
            mine, theirs = medians_ms(
                3, lambda find=find: list(find(NOW)), lambda name=name: raw(statements[name])
            )
            print(
                f"  {name}: {len(found[name])} found in {len(statements[name])} queries, {mine:.0f} ms, "
                f"its SQL alone {theirs:.0f} ms"
            )
        if options.profile:
            profile = cProfile.Profile()
            profile.runcall(look)
            pstats.Stats(profile).sort_stats("cumulative").print_stats(40)
        everything = [sql for these in statements.values() for sql in these]
        mine, theirs = medians_ms(options.rounds, look, lambda: raw(everything))
        print(
            f"{options.carts} carts, {Alert.objects.open().count()} alerts open, {len(asked)} queries at 100 and "
            f"{options.carts} carts alike; a second sweep wrote nothing but its own row"
        )
        print(f"sweep {mine:.0f} ms, its rules' SQL alone {theirs:.0f} ms: ratio {mine / theirs:.1f} (aim 3)")
        transaction.set_rollback(True)


if __name__ == "__main__":
    main()
