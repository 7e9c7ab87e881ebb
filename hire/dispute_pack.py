"""Everything one hire can be argued about from, as the files of one ZIP, each with its hash. Reads only."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from functools import partial
from uuid import UUID

from django.conf import settings
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.utils.text import slugify

from fleet.models.defects import DefectStep
from fleet.models.photos import Photo
from fleet.photos import store
from hire import money_tables, tables
from hire.back_record import read_record
from hire.back_screen import compared_table
from hire.charge_facts import dockets_of
from hire.copies import week_words
from hire.daily_screens import DAILY_HEAD, daily_table
from hire.dispute_record import disputes_of, readings_of, record_page
from hire.hire_records import AFTER, BEFORE, papers_of
from hire.load_page import LOAD_HEAD, load_table
from hire.models.agreements import Line
from hire.models.breakdowns import Breakdown
from hire.models.copies import PreStartCopy
from hire.models.daily import DailyDocket
from hire.models.disputes import DisputeWord
from hire.models.gate import HandoverPhoto
from hire.service_offers import OFFER_HEAD, offer_table, offers_of
from hire.stand_down_rows import STAND_DOWN_HEAD, stand_down_rows, stand_down_table
from hire.swaps import lines_together
from hire.zip_stream import Packed, PackFile
from inspections.models import AnswerPhoto, WalkRound
from people.clock import shown_by
from people.csv_out import csv_response
from people.journal.models import Entry
from people.say import say_page

OUT, IN = ("pre_hire", "gate_out"), ("as_returned", "after_wash")


def pack_files(line: Line, *, at: datetime) -> Iterator[PackFile]:
    """The files, in the order of the hire and of its carts, whichever of them is asked for; bytes are fetched one by one as they
    are sent."""
    lines = lines_together(line)
    yield PackFile(
        "hire.html", "The agreement, its terms and all that was written down", partial(record_page, lines, at)
    )
    for one in lines:
        yield from _papers(one)
    yield from _checks(lines)
    yield from _photos(lines)
    yield from _tables(lines)
    yield from _dockets(lines)
    yield PackFile(
        "journal.txt", "The yard’s journal of this hire, each entry with its hash", partial(_journal, lines)
    )


def pack_index(
    line: Line, *, at: datetime, by_words: str
) -> Callable[[list[Packed]], Iterable[tuple[str, bytes]]]:
    """What lists the files once they are in: a page, and the sums as a file that a checking program reads."""
    carts = ", ".join(one.cart.fleet_number for one in lines_together(line))

    def made(packed: list[Packed]) -> Iterator[tuple[str, bytes]]:
        context = {
            "line": line, "carts": carts, "at": at, "by_words": by_words, "files": packed, "yard_name": settings.YARD_NAME,
            "size_bytes": sum(file.size_bytes for file in packed), "missing": [file for file in packed if file.sha256 is None],
        }  # fmt: skip
        with shown_by(line.agreement.zone):
            index = render_to_string("hire/pack_index.html", context)
        yield "index.html", say_page(index).encode()
        sums = "".join(f"{file.sha256}  {file.path}\n" for file in packed if file.sha256)
        yield "SHA256SUMS", sums.encode()

    return made


def pack_name(line: Line) -> str:
    return f"dispute-pack-{line.agreement.number}-{line.cart.fleet_number}.zip"


def _kept(name: str) -> bytes | None:
    try:
        return store.open(name).read()
    except (store.StoredFileMissing, store.StoredFileAltered):
        return None


def _papers(line: Line) -> Iterator[PackFile]:
    for paper in papers_of(line):
        words = f"{line.cart.fleet_number}: {paper.get_kind_display()} {paper.number}, sealed"
        words += ", withdrawn" if hasattr(paper, "withdrawal") else ""
        words += f", replaced by {paper.replaced_by.number}" if hasattr(paper, "replaced_by") else ""
        stored = paper.file.stored_name if hasattr(paper, "file") else None
        yield PackFile(f"papers/{paper.number}.pdf", words, partial(_kept, stored) if stored else _not_made)


def _not_made() -> None:
    """A file its worker has not made yet."""


def _walks(line: Line, purposes: Sequence[str]) -> QuerySet[WalkRound]:
    """Signed rounds of these kinds that belong to this hire, not to the one before or after."""
    left = line.handed_over_at
    if left is None:
        return WalkRound.objects.none()
    others = Line.objects.filter(cart=line.cart_id).exclude(pk=line.pk)
    if purposes == OUT:
        before = others.filter(handed_over_at__lt=left).order_by("-handed_over_at").first()
        since = before.handed_over_at if before is not None and before.handed_over_at else left - BEFORE
        span = (max(since, left - BEFORE), left)
    else:
        after = others.filter(handed_over_at__gt=left).order_by("handed_over_at").first()
        span = (left, (after and after.handed_over_at) or (line.back_known_at or left) + AFTER)
    return WalkRound.objects.filter(cart=line.cart_id, purpose__in=purposes, signed_at__range=span).order_by(
        "signed_at"
    )


def _daily(line: Line) -> QuerySet[WalkRound]:
    """The pre-starts signed while it was out."""
    if line.handed_over_at is None:
        return WalkRound.objects.none()
    span = (line.handed_over_at, line.back_at or line.promised.upper + AFTER)
    return WalkRound.objects.filter(cart=line.cart_id, purpose="daily", signed_at__range=span).order_by(
        "signed_at"
    )


def _checks(lines: Sequence[Line]) -> Iterator[PackFile]:
    """The text each signature is bound to, byte for byte."""
    seen: set[UUID] = set()
    for line in lines:
        for walk in (*_walks(line, OUT), *_daily(line), *_walks(line, IN)):
            if walk.pk in seen:
                continue
            seen.add(walk.pk)
            words = f"{line.cart.fleet_number}: {walk.get_purpose_display()}, {walk.signature_name}: {walk.headline}"
            when = f"{walk.signed_at.astimezone(line.agreement.zone):%Y-%m-%d-%H%M}"
            path = f"checks/{when}-{_named(line)}-{walk.purpose}-{str(walk.pk)[:8]}.json"
            yield PackFile(path, words, partial(str.encode, walk.manifest))


def _named(line: Line) -> str:
    """Its cart, as a part of a file's name."""
    return slugify(line.cart.fleet_number) or "cart"


def _photos(lines: Sequence[Line]) -> Iterator[PackFile]:
    """Out, at the handover, while out, in, the copies of their pre-starts, cart by cart, and those of the disputes; a photo shown
    twice is in each place."""
    for line in lines:
        yield from _walk_photos("photos-out", line, _walks(line, OUT))
        shown = (
            HandoverPhoto.objects.filter(handover__line=line)
            .select_related("photo")
            .order_by("photo__received_at")
        )
        for number, one in enumerate(shown, start=1):
            yield _photo("photos-handover", number, one.photo, "At the handover", line)
        yield from _walk_photos("photos-daily", line, _daily(line))
        yield from _breakdown_photos(line)
        yield from _walk_photos("photos-in", line, _walks(line, IN))
        pages = PreStartCopy.objects.filter(line=line).exclude(photo=None).select_related("photo")
        for number, page in enumerate(pages, start=1):
            if page.photo is not None:
                told = f"Their pre-starts, {week_words(page.week_on)}, sent by {page.sent_by_words}"
                yield _photo("photos-pre-starts", number, page.photo, told, line)
    words = DisputeWord.objects.filter(dispute__in=disputes_of(lines), photo__isnull=False)
    for number, said in enumerate(
        words.select_related("photo", "dispute__docket__line__cart").order_by("made_at"), start=1
    ):
        if said.photo is not None:
            line = said.dispute.docket.line
            yield _photo(
                "photos-disputes", number, said.photo, f"{said.get_side_display()}, {said.dispute}", line
            )


def _walk_photos(folder: str, line: Line, walks: QuerySet[WalkRound]) -> Iterator[PackFile]:
    rows = AnswerPhoto.objects.filter(answer__walk_round__in=walks).select_related(
        "answer__walk_round", "photo"
    )
    for number, row in enumerate(
        rows.order_by("answer__walk_round__signed_at", "answer__number", "number"), start=1
    ):
        where = f"{row.answer.title}{f', {row.answer.place}' if row.answer.place else ''}"
        yield _photo(
            folder, number, row.photo, f"{row.answer.walk_round.get_purpose_display()}: {where}", line
        )


def _breakdown_photos(line: Line) -> Iterator[PackFile]:
    """What the customer photographed of each breakdown, and what was photographed of its repair."""
    defects = Breakdown.objects.filter(line=line).values("defect")
    steps = DefectStep.objects.filter(defect__in=defects).select_related("photo", "defect").order_by("at")
    shown = [
        (step, photo)
        for step in steps.prefetch_related("further_photos__photo")
        for photo in (step.photo, *(more.photo for more in step.further_photos.all()))
        if photo is not None
    ]
    for number, (step, photo) in enumerate(shown, start=1):
        yield _photo("photos-breakdown", number, photo, step.defect.title, line)


def _photo(folder: str, number: int, photo: Photo, words: str, line: Line) -> PackFile:
    words = f"{line.cart.fleet_number}: {words}. As the camera wrote it, SHA-256 {photo.original_sha256}"
    path = f"{folder}/{_named(line)}-{str(line.pk)[:4]}-{number:03d}-{photo.stored_sha256[:12]}.jpg"
    return PackFile(path, words, partial(_kept, photo.stored_name))


def _csv(name: str, head: Sequence[str], rows: Callable[[], Iterable[Sequence[object]]]) -> bytes:
    return csv_response(name, head, rows()).content


Table = Callable[[Line], Iterable[Sequence[object]]]


def _by_cart(lines: Sequence[Line], rows: Table) -> Iterator[Sequence[object]]:
    """The rows of each cart, in the order of the hire, its name before them."""
    for line in lines:
        for row in rows(line):
            yield (line.cart.fleet_number, *row)


def _meters(line: Line) -> Iterator[Sequence[object]]:
    for row in readings_of(line):
        yield row.meter.get_kind_display(), row.meter.fitted_at, row.value, row.read_at, row.source_kind


def _compared(line: Line) -> Iterable[Sequence[object]]:
    return compared_table(read_record(line)) if line.back_at else ()


def _loads(line: Line) -> Iterable[Sequence[object]]:
    return load_table(line, line.loads.for_list())


def _tables(lines: Sequence[Line]) -> Iterator[PackFile]:
    meters = ("Cart", "Meter", "Fitted", "Value", "Read", "From")
    days = DailyDocket.objects.filter(line__in=lines)
    for path, words, is_there, head, rows in (
        ("meters.csv", "Meter readings of the hire", True, meters, partial(_by_cart, lines, _meters)),
        (
            "out-and-back.csv", "How each cart left and how it came back, place by place", any(one.back_at for one in lines),
            ("Cart", *tables.COMPARED_HEAD), partial(_by_cart, lines, _compared),
        ),
        (
            "stand-downs.csv", "Days stood down, claimed, refused and struck out",
            any(one.stand_downs.exists() or one.stand_down_claims.exists() for one in lines), STAND_DOWN_HEAD,
            lambda: stand_down_table(stand_down_rows(lines)),
        ),
        (
            "service-offers.csv", "Services offered on site, agreed, refused and struck out",
            any(one.service_offers.exists() for one in lines), OFFER_HEAD, lambda: offer_table(offers_of(lines)),
        ),
        (
            "daily-dockets.csv", "The operator’s days, replaced dockets among them", days.exists(), DAILY_HEAD,
            lambda: daily_table(days.for_list()),
        ),
        (
            "loads.csv", "Loads of water, as they were tapped", any(one.loads.exists() for one in lines), ("Cart", *LOAD_HEAD),
            partial(_by_cart, lines, _loads),
        ),
        (
            "dockets.csv", "The lines of all dockets", True, tables.DOCKET_HEAD,
            lambda: tables.docket_table(dockets_of(lines).prefetch_related("set_off")),
        ),
        (
            "disputes.csv", "What is disputed", True, money_tables.DISPUTE_HEAD,
            lambda: money_tables.dispute_table(disputes_of(lines)),
        ),
    ):  # fmt: skip
        if is_there:
            yield PackFile(path, words, partial(_csv, path.removesuffix(".csv"), head, rows))


def _dockets(lines: Sequence[Line]) -> Iterator[PackFile]:
    for docket in dockets_of(lines).select_related("file"):
        stored = docket.file.stored_name if hasattr(docket, "file") else None
        yield PackFile(
            f"dockets/{docket.number}.pdf", f"Hire docket {docket.number}", partial(_kept, stored) if stored else _not_made
        )  # fmt: skip


def _journal(lines: Sequence[Line]) -> bytes:
    entries = Entry.objects.filter(
        subject_kind="hire_line", subject_id__in=[line.pk for line in lines]
    ).order_by("at", "chain", "position")
    return "".join(f"{one.chain} {one.position} {one.hash}\n{one.text}\n\n" for one in entries).encode()
