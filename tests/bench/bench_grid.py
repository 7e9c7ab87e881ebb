"""The grid of hires, all 500 carts and 13 weeks of it, against a plain reading of the same rows; and its pages as they are sent.

    python -m tests.bench.bench_grid [--carts 500] [--rounds 5]

Each cart has a hire of five days every six. The bars are counted against the plain reading first. Rows are made in a transaction
that is rolled back. Read the ratio; the milliseconds are this machine's.
"""

import argparse

import django
from django.db import connection

from tests.bench.bench_availability import DAY, NOW, make
from tests.bench.timing import medians_ms

DAYS = 91


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--carts", type=int, default=500)
    parser.add_argument("--rounds", type=int, default=5)
    options = parser.parse_args()
    django.setup()
    from django.core.management import call_command  # noqa: PLC0415 -- Django is set up first
    from django.db import transaction  # noqa: PLC0415
    from django.db.backends.postgresql.psycopg_any import DateTimeTZRange  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415
    from django.test.utils import CaptureQueriesContext  # noqa: PLC0415
    from django.urls import reverse  # noqa: PLC0415

    from fleet.models.carts import Cart  # noqa: PLC0415
    from hire.grid import Scale, grid  # noqa: PLC0415
    from hire.models.agreements import Line  # noqa: PLC0415
    from people.roles import Role  # noqa: PLC0415
    from tests.factories.people import StaffFactory  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    with transaction.atomic():
        make(options.carts, options.carts * 40)
        carts = list(Cart.objects.order_by("fleet_number"))
        scale = Scale((NOW - 30 * DAY).date(), DAYS)

        def plain() -> list[tuple[object, ...]]:
            rows = Line.objects.filter(kept__overlap=DateTimeTZRange(*scale.span)).order_by()
            return list(
                rows.values_list("cart_id", "promised", "agreement__number", "agreement__customer__name")
            )

        with CaptureQueriesContext(connection) as caught:
            bars = sum(len(row.bars) for row in grid(carts, scale, at=NOW))
        assert bars == len(plain())
        rows_ms, grid_ms = medians_ms(options.rounds, plain, lambda: grid(carts, scale, at=NOW))
        told = f"{len(carts)} carts x {DAYS} days, {bars:,} bars in {len(caught)} queries"
        print(f"{told}: {grid_ms:.0f} ms, ratio to reading the rows {grid_ms / rows_ms:.1f}")
        client = Client()
        client.force_login(StaffFactory(role=Role.HIRE_DESK))
        url, asked = reverse("hire:hire_grid"), {"since": f"{scale.first:%Y-%m-%d}", "days": DAYS}
        page = client.get(url, asked)
        assert page.status_code == 200
        [page_ms] = medians_ms(options.rounds, lambda: client.get(url, asked))
        print(f"one page of it, 100 carts: {page_ms:.0f} ms, {len(page.content) / 1024:.0f} KiB before gzip")
        transaction.set_rollback(True)


if __name__ == "__main__":
    main()
