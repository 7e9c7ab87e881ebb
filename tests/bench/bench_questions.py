"""What a manager's page asks of a walk-round, in a yard with 10,000 walk-rounds and as many photos.

    python -m tests.bench.bench_questions [--walks 10000] [--rounds 5]

Its photos are looked for among all others: ours cuts the hashes to pieces, the rival has the database compare each with
each, and equal answers are asserted first. The whole reading for one walk-round and for a page of fifty has no rival and is
only told. Rows are made in a transaction that is rolled back. Read the ratio; the milliseconds are this machine's.
"""

import argparse
import datetime
import gc
import hashlib
import json
import random
import uuid
from collections.abc import Sequence
from decimal import Decimal
from functools import partial
from typing import Any

import django
from django.core.management import call_command
from django.test.utils import CaptureQueriesContext

from tests.bench.timing import medians_ms

POINTS = 3
PAGE = 50
RAW = """
SELECT wanted, photo.id FROM unnest(%(hashes)s::text[]) AS wanted, fleet_photo AS photo
WHERE bit_count(('x' || photo.perceptual_hash)::bit(64) # ('x' || wanted)::bit(64)) <= %(points)s
"""


def _photo(chance: random.Random, at: datetime.datetime) -> Any:
    from fleet.models.photos import Photo  # noqa: PLC0415 -- Django is set up first

    # One in five has a plain sky: the first quarter of its hash is the same as that of all of them.
    look_alike = chance.getrandbits(64 if chance.random() < 0.8 else 48)
    return Photo(
        original_sha256=hashlib.sha256(uuid.uuid4().bytes).hexdigest(), stored_sha256="a" * 64,
        stored_name=f"photos/aa/aa/{'a' * 64}.jpg", print_name=f"photos/aa/aa/{'a' * 64}.jpg", width_px=1600,
        height_px=1200, size_bytes=300_000, perceptual_hash=f"{look_alike:016x}", received_at=at,
    )  # fmt: skip


def _answers(walk: Any, items: Sequence[Any], chance: random.Random) -> list[Any]:
    from inspections.models import Answer  # noqa: PLC0415 -- Django is set up first

    return [
        Answer(
            walk_round=walk, number=number, check_key=item.check.key, title=item.check.title, place=item.place,
            station=item.check.station, answer="good", unit=(unit := item.check.unit_for("au") or ""),
            value=f"{chance.uniform(5, 15):.1f}" if unit else "",
            answered_at=walk.signed_at - datetime.timedelta(seconds=30 * (100 - number)),
        )
        for number, item in enumerate(items, start=1)
    ]  # fmt: skip


def _walk(
    *, cart: Any, purpose: str, by: Any, at: datetime.datetime, issue: Any, items: Sequence[Any]
) -> Any:
    """A walk-round with as much of its signed record as is read again, and as long as one."""
    from inspections.models import WalkRound  # noqa: PLC0415 -- Django is set up first

    answers = [
        {"check": item.check.key, "place": item.place, "answer": "good", "photos": []} for item in items
    ]
    record = {"version": 2, "cart": str(cart.pk), "lot": f"{at:%Y%m%d%H%M%S}", "answers": answers}
    return WalkRound(
        cart=cart, purpose=purpose, edition=issue, rule_set="au", manifest=json.dumps(record).ljust(12_000),
        manifest_sha256="0" * 64,
        started_at=at - datetime.timedelta(hours=1), device_signed_at=at, signed_at=at, received_at=at, author=by,
        author_words="Walker", sent_by=by, signature_kind="typed", signature_name="Walker", outcome="ready",
        headline="Ready", reasons=[],
    )  # fmt: skip


def _told_and_read(walks: Sequence[Any], chance: random.Random) -> None:
    """A defect told by one walk-round in five, and two meters read by each."""
    from fleet.models.carts import Meter, MeterReading  # noqa: PLC0415 -- Django is set up first
    from fleet.models.defects import Defect  # noqa: PLC0415

    Defect.objects.bulk_create(
        Defect(
            cart=walk.cart, title="Weeps", station="rear", grade="watch", source_kind="walk_round", source_id=walk.pk,
            told_at=walk.signed_at, told_by_words="Walker", check_key="weep",
        )
        for walk in walks
        if chance.random() < 0.2
    )  # fmt: skip
    meters = {(meter.cart_id, meter.kind): meter for meter in Meter.objects.all()}
    MeterReading.objects.bulk_create(
        MeterReading(
            meter=meters[walk.cart_id, kind], value=Decimal(3 * n), read_at=walk.signed_at, source_kind="walk_round",
            source_id=walk.pk,
        )
        for n, walk in enumerate(reversed(walks))
        for kind in ("km", "engine_hours")
    )  # fmt: skip


def make(count: int, *, at: datetime.datetime) -> None:
    """So many walk-rounds of 40 carts by nine people over some months, newest first, a photo with each."""
    from fleet.models.photos import Photo  # noqa: PLC0415 -- Django is set up first
    from inspections.models import Answer, AnswerPhoto, WalkRound  # noqa: PLC0415
    from tests.factories import inspections as signed  # noqa: PLC0415
    from tests.factories.fleet import CartFactory  # noqa: PLC0415
    from tests.factories.people import StaffFactory  # noqa: PLC0415

    chance, issue = random.Random(3), signed.edition()
    carts, staff = [CartFactory(tyres="9.5") for _ in range(40)], [StaffFactory() for _ in range(9)]
    purposes = {"daily": 60, "weekly": 10, "monthly": 3, "pre_hire": 10, "gate_out": 17}
    sheets = {purpose: signed.sheet(carts[0], purpose).items for purpose in purposes}
    asked = chance.choices(list(purposes), list(purposes.values()), k=count)
    walks = [
        _walk(
            cart=carts[n % 40],
            purpose=purpose,
            by=chance.choice(staff),
            at=at - datetime.timedelta(minutes=25 * n),
            issue=issue,
            items=sheets[purpose],
        )
        for n, purpose in enumerate(asked)
    ]
    WalkRound.objects.bulk_create(walks, batch_size=500)
    _told_and_read(walks, chance)
    answers = [one for walk in walks for one in _answers(walk, sheets[walk.purpose], chance)]
    Answer.objects.bulk_create(answers, batch_size=5000)
    photos = Photo.objects.bulk_create((_photo(chance, at) for _ in walks), batch_size=2000)
    firsts = [answer for answer in answers if answer.number == 1]
    AnswerPhoto.objects.bulk_create(
        (AnswerPhoto(answer=one, photo=photo, number=1) for one, photo in zip(firsts, photos, strict=True)),
        batch_size=2000,
    )


def _pairs(found: dict[str, list[uuid.UUID]]) -> set[tuple[str, uuid.UUID]]:
    return {(one, photo) for one, photos in found.items() for photo in photos}


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--walks", type=int, default=10_000)
    parser.add_argument("--rounds", type=int, default=5)
    options = parser.parse_args()
    django.setup()
    call_command("migrate", verbosity=0)
    from django.db import connection, transaction  # noqa: PLC0415 -- Django is set up first
    from django.utils import timezone  # noqa: PLC0415

    from fleet.models.photos import Photo  # noqa: PLC0415
    from fleet.photos.alike import photos_alike  # noqa: PLC0415
    from inspections.honesty import questions_of  # noqa: PLC0415
    from inspections.models import WalkRound  # noqa: PLC0415

    with transaction.atomic():
        make(options.walks, at=timezone.now())
        connection.cursor().execute("ANALYZE")
        # What was made is no part of what is measured, nor is sweeping through it.
        gc.collect()
        gc.freeze()
        hashes = list(Photo.objects.order_by("original_sha256").values_list("perceptual_hash", flat=True)[:8])
        rows = WalkRound.objects.select_related("cart", "author").defer("manifest").order_by("-signed_at")

        def each_with_each() -> set[tuple[str, uuid.UUID]]:
            with connection.cursor() as cursor:
                cursor.execute(RAW, {"hashes": hashes, "points": POINTS})
                return set(cursor.fetchall())

        def in_pieces() -> set[tuple[str, uuid.UUID]]:
            return _pairs(photos_alike(hashes, points=POINTS))

        def asked(count: int, *, once: bool) -> Sequence[object]:
            return list(questions_of(list(rows[:count]), once_a_person=once).values())

        assert in_pieces() == each_with_each(), "The two do not find the same photos."
        with CaptureQueriesContext(connection) as seen:
            asked(PAGE, once=True)
        one_page, list_page = partial(asked, 1, once=False), partial(asked, PAGE, once=True)
        pieces, rival, one, page = medians_ms(options.rounds, in_pieces, each_with_each, one_page, list_page)
        print(
            f"8 photos beside {options.walks}: in pieces {pieces:.0f} ms, each with each {rival:.0f} ms: ratio {pieces / rival:.2f}"
        )
        print(
            f"questions of one walk-round {one:.0f} ms, of a page of {PAGE} {page:.0f} ms, in {len(seen)} queries"
        )
        transaction.set_rollback(True)


if __name__ == "__main__":
    main()
