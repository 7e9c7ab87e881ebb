"""Readiness of 1,000 carts against one raw SQL statement that finds the same held carts.

    python -m tests.bench.bench_readiness [--carts 1000] [--rounds 5]

Rows are made in a transaction that is rolled back. Equal answers and equal query counts at 10, 100 and 1,000 carts are
asserted first. Read the ratio; the milliseconds are this machine's.
"""

import argparse
import datetime
import uuid

import django
from django.core.management import call_command
from django.test.utils import CaptureQueriesContext

from tests.bench.timing import medians_ms

NOW = datetime.datetime(2026, 11, 30, 21, 0, tzinfo=datetime.UTC)
RAW = """
SELECT c.id FROM fleet_cart c
WHERE c.id = ANY(%(carts)s) AND (
    EXISTS (SELECT 1 FROM fleet_defect d WHERE d.cart_id = c.id AND d.closed_at IS NULL
            AND (d.grade = 'do_not_use' OR d.due_on < %(on)s)
            AND NOT EXISTS (SELECT 1 FROM fleet_limit l WHERE l.defect_id = d.id AND l.lifted_at IS NULL))
    OR EXISTS (SELECT 1 FROM fleet_hold h WHERE h.cart_id = c.id AND h.lifted_at IS NULL)
    OR EXISTS (SELECT 1 FROM hire_line l WHERE l.cart_id = c.id AND l.cancelled_at IS NULL AND l.back_at IS NULL
               AND (l.handed_over_at IS NOT NULL OR l.promised && tstzrange(%(start)s, %(end)s)))
    OR EXISTS (SELECT 1 FROM fleet_tyrefitting f JOIN fleet_wheelposition p ON p.id = f.wheel_position_id
               WHERE p.cart_id = c.id AND upper_inf(f.period) AND (
                   SELECT r.depth_mm FROM fleet_treadreading r WHERE r.fitting_id = f.id
                   ORDER BY r.read_at DESC LIMIT 1) < CASE WHEN p.steers THEN 4.0 ELSE 3.0 END)
)
"""


def make(count: int) -> None:
    """Carts with tyres and readings; one in seven has a grave defect, one in eleven is tagged out, one in thirteen worn."""
    from tests.factories.fleet import (  # noqa: PLC0415 -- Django is set up first
        CartFactory,
        DefectFactory,
        HoldFactory,
    )

    for n in range(count):
        cart = CartFactory(
            fleet_number=f"B{n:05d}", plate="", gear=(), meters=(), tyres="2.0" if n % 13 == 0 else "9.5"
        )
        if n % 7 == 0:
            DefectFactory(cart=cart, grade="do_not_use")
        if n % 11 == 0:
            HoldFactory(cart=cart)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--carts", type=int, default=1000)
    parser.add_argument("--rounds", type=int, default=5)
    options = parser.parse_args()
    django.setup()
    call_command("migrate", verbosity=0)
    from django.db import connection, transaction  # noqa: PLC0415 -- Django is set up first

    from fleet.models.carts import Cart  # noqa: PLC0415
    from fleet.readiness import Window, readiness_of  # noqa: PLC0415

    # Nobody is at the gate: walks are judged per purpose in Python, which the one statement does not try to copy.
    window = Window(start=NOW, end=NOW + datetime.timedelta(days=7), asks_gate=False)
    with transaction.atomic():
        make(options.carts)
        connection.cursor().execute("ANALYZE")
        carts = list(Cart.objects.filter(fleet_number__startswith="B").order_by("fleet_number"))
        given = {
            "carts": [cart.pk for cart in carts],
            "on": NOW.date(),
            "start": window.start,
            "end": window.end,
        }

        def ours() -> set[uuid.UUID]:
            return {
                pk for pk, found in readiness_of(carts, window=window, at=NOW).items() if not found.may_go
            }

        def raw() -> set[uuid.UUID]:
            with connection.cursor() as cursor:
                cursor.execute(RAW, given)
                return {row[0] for row in cursor.fetchall()}

        assert ours() == raw(), "The two do not hold the same carts."
        counts = []
        for size in (10, 100, len(carts)):
            with CaptureQueriesContext(connection) as seen:
                readiness_of(carts[:size], window=window, at=NOW)
            counts.append(len(seen))
        assert len(set(counts)) == 1, f"Queries grow with the carts: {counts}"
        mine, theirs = medians_ms(options.rounds, ours, raw)
        print(
            f"{len(carts)} carts, {len(raw())} held, {counts[0]} queries at 10, 100 and {len(carts)} carts alike"
        )
        print(f"readiness {mine:.0f} ms, raw SQL {theirs:.0f} ms: ratio {mine / theirs:.1f} (aim 5)")
        transaction.set_rollback(True)


if __name__ == "__main__":
    main()
