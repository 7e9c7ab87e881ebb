"""Who has a cart, at 100,000 bookings, against `select 1`; and the whole answer to a caller.

    python -m tests.bench.bench_availability [--carts 500] [--bookings 100000] [--rounds 20]

Rows are made in a transaction that is rolled back. The lookup is of one class of ten carts, as a caller's question leaves them;
its answer is compared with a plain reading of the rows first. Read the ratios; the milliseconds are this machine's.
"""

import argparse
import datetime

import django
from django.db import connection

from tests.bench.timing import medians_ms

NOW = datetime.datetime(2026, 11, 30, 21, 0, tzinfo=datetime.UTC)
DAY = datetime.timedelta(days=1)


def make(carts: int, bookings: int) -> None:
    """Each cart has hires of five days every six, one after the other round today; what is past is back."""
    from django.db.backends.postgresql.psycopg_any import DateTimeTZRange  # noqa: PLC0415 -- Django is set up first

    from hire.models.agreements import Line  # noqa: PLC0415
    from tests.factories.fleet import CartFactory  # noqa: PLC0415
    from tests.factories.hire import AgreementFactory  # noqa: PLC0415

    agreement, each = AgreementFactory(), bookings // carts
    rows = []
    for n in range(carts):
        cart = CartFactory(fleet_number=f"B{n:05d}", plate="", gear=(), meters=())
        for k in range(each):
            start = NOW + (k - each // 2) * 6 * DAY + (n % 24) * DAY / 24
            is_over = start + 5 * DAY < NOW
            rows.append(
                Line(
                    cart=cart, agreement=agreement, promised=DateTimeTZRange(start, start + 5 * DAY),
                    handed_over_at=start if is_over else None, back_at=start + 5 * DAY if is_over else None,
                )
            )  # fmt: skip
    Line.objects.bulk_create(rows, batch_size=5_000)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE hire_line")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--carts", type=int, default=500)
    parser.add_argument("--bookings", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=20)
    options = parser.parse_args()
    django.setup()
    from django.core.management import call_command  # noqa: PLC0415
    from django.db import transaction  # noqa: PLC0415

    from fleet.models.carts import Cart  # noqa: PLC0415
    from hire.availability import answer, lines_in_the_way  # noqa: PLC0415
    from hire.models.agreements import Line  # noqa: PLC0415
    from hire.suiting import Enquiry  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    with transaction.atomic():
        make(options.carts, options.bookings)
        some = list(Cart.objects.order_by("fleet_number")[:10])
        start, end = NOW + 100 * DAY, NOW + 103 * DAY
        query, params = (
            lines_in_the_way(some, start=start, end=end, at=NOW)
            .order_by()
            .values_list("pk")
            .query.sql_with_params()
        )
        plain = {
            line.pk for line in Line.objects.filter(cart__in=some, back_at=None)
            if line.promised.lower < end and line.promised.upper > start
        }  # fmt: skip
        with connection.cursor() as cursor:

            def asked(sql: str, values: tuple[object, ...] = ()) -> list[tuple[object, ...]]:
                cursor.execute(sql, values)
                return cursor.fetchall()

            assert {row[0] for row in asked(query, params)} == plain
            assert plain
            one, lookup = medians_ms(
                options.rounds * 10, lambda: asked("SELECT 1"), lambda: asked(query, params)
            )
        [whole] = medians_ms(options.rounds, lambda: answer(Enquiry(start, end), at=NOW))
        ratio = f"{lookup:.2f} ms, ratio to SELECT 1 {lookup / one:.1f} (aim 6)"
        print(f"{options.bookings:,} bookings, who has one of ten carts: {ratio}")
        print(f"the whole answer to a caller, {options.carts} carts: {whole:.0f} ms")
        transaction.set_rollback(True)


if __name__ == "__main__":
    main()
