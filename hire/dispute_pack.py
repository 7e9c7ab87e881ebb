"""Everything one hire can be argued about from, as the files of one ZIP, each with its hash. Reads only."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from functools import partial

from django.conf import settings
from django.db.models import QuerySet
from django.template.loader import render_to_string

from fleet.models.carts import MeterReading
from fleet.models.photos import Photo
from fleet.photos import store
from hire import money_tables, tables
from hire.back_record import read_record
from hire.back_screen import compared_table
from hire.charge_facts import charge_ends_at, dockets_of
from hire.copies import OURS, copy_weeks, week_words
from hire.daily_screens import DAILY_HEAD, daily_table
from hire.hire_records import AFTER, BEFORE, papers_of
from hire.load_page import LOAD_HEAD, load_table
from hire.models.agreements import Line
from hire.models.breakdowns import Breakdown
from hire.models.copies import PreStartCopy
from hire.models.disputes import Dispute, DisputeWord
from hire.models.gate import Handover
from hire.models.money import BesideCharge, Docket
from hire.models.worked_days import WorkedDay
from hire.swaps import lines_together, swaps_before
from hire.terms_words import CAUTION, terms_words
from hire.zip_stream import Packed, PackFile
from inspections.models import AnswerPhoto, WalkRound
from people.csv_out import csv_response
from people.journal.models import Entry
from people.yard import yard_policy

OUT, IN = ("pre_hire", "gate_out"), ("as_returned", "after_wash")


def pack_files(line: Line, *, at: datetime) -> Iterator[PackFile]:
    """The files, in the order of the hire; bytes are fetched one by one as they are sent."""
    yield PackFile(
        "hire.html", "The agreement, its terms and all that was written down", partial(_record, line, at)
    )
    yield from _papers(line)
    yield from _checks(line)
    yield from _photos(line)
    yield from _tables(line)
    yield from _dockets(line)
    yield PackFile(
        "journal.txt", "The yard’s journal of this hire, each entry with its hash", partial(_journal, line)
    )


def pack_index(
    line: Line, *, at: datetime, by_words: str
) -> Callable[[list[Packed]], Iterable[tuple[str, bytes]]]:
    """What lists the files once they are in: a page, and the sums as a file that a checking program reads."""

    def made(packed: list[Packed]) -> Iterator[tuple[str, bytes]]:
        context = {
            "line": line, "at": at, "by_words": by_words, "files": packed, "yard_name": settings.YARD_NAME,
            "size_bytes": sum(file.size_bytes for file in packed), "missing": [file for file in packed if file.sha256 is None],
        }  # fmt: skip
        yield "index.html", render_to_string("hire/pack_index.html", context).encode()
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


def _record(line: Line, at: datetime) -> bytes:
    """The page that says it all in words."""
    agreed = line.agreed_terms.select_related("agreed_by").order_by("agreed_at")
    context = {
        "line": line, "at": at, "yard_name": settings.YARD_NAME, "caution": CAUTION,
        "agreed": [(one, terms_words(one.body, rule=one.rule)) for one in agreed],
        "swaps": swaps_before(line), "handover": Handover.objects.filter(line=line).select_related("by").first(),
        "off_hires": line.off_hires.select_related("made_by", "replaced_by__cart").prefetch_related("failed_pick_ups"),
        "stand_downs": line.stand_downs.select_related("made_by"), "drivers": line.drivers.standing(),
        "copies": copy_weeks([line], at=at)[line.pk] if line.agreement.pre_start_book != OURS else (),
        "breakdowns": Breakdown.objects.filter(line=line).select_related("defect"), "readings": _readings(line),
        "beside": BesideCharge.objects.filter(line__in=lines_together(line)).select_related("told_by"),
        "worked_days": WorkedDay.objects.filter(line__in=lines_together(line)).select_related("made_by"),
        "fines": line.fines.all(),
        "deposit": line.agreement.deposit.select_related("made_by", "docket"),
        "dockets": _dockets_of(line).select_related("made_by"), "disputes": _disputes(line),
    }  # fmt: skip
    return render_to_string("hire/pack_record.html", context).encode()


def _readings(line: Line) -> QuerySet[MeterReading]:
    """Every reading from the last days before it left to its return."""
    start = (line.handed_over_at or line.promised.lower) - BEFORE
    end = (line.back_at or charge_ends_at(line) or line.promised.upper) + AFTER
    rows = MeterReading.objects.filter(meter__cart=line.cart_id, read_at__range=(start, end))
    return rows.select_related("meter").order_by("meter__kind", "read_at")


def _disputes(line: Line) -> QuerySet[Dispute]:
    return Dispute.objects.for_list().filter(docket__line__in=lines_together(line)).order_by("made_at")


def _dockets_of(line: Line) -> QuerySet[Docket]:
    """Those of the whole hire: a cart and the one it was swapped for are charged as one."""
    return dockets_of(lines_together(line))


def _papers(line: Line) -> Iterator[PackFile]:
    for paper in papers_of(line):
        words = f"{paper.get_kind_display()} {paper.number}, sealed"
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
        span = (left, (after and after.handed_over_at) or (line.back_at or left) + AFTER)
    return WalkRound.objects.filter(cart=line.cart_id, purpose__in=purposes, signed_at__range=span).order_by(
        "signed_at"
    )


def _checks(line: Line) -> Iterator[PackFile]:
    """The text each signature is bound to, byte for byte."""
    daily = WalkRound.objects.none()
    if line.handed_over_at is not None:
        end = line.back_at or line.promised.upper + AFTER
        daily = WalkRound.objects.filter(
            cart=line.cart_id, purpose="daily", signed_at__range=(line.handed_over_at, end)
        ).order_by("signed_at")
    for walks in (_walks(line, OUT), daily, _walks(line, IN)):
        for walk in walks:
            words = f"{walk.get_purpose_display()}, {walk.signature_name}: {walk.headline}"
            path = f"checks/{walk.signed_at.astimezone(yard_policy().zone):%Y-%m-%d-%H%M}-{walk.purpose}-{str(walk.pk)[:8]}.json"
            yield PackFile(path, words, partial(str.encode, walk.manifest))


def _photos(line: Line) -> Iterator[PackFile]:
    """Out, at the handover, in, the copies of their pre-starts, and those of the disputes; a photo shown twice is in each place."""
    yield from _walk_photos("photos-out", _walks(line, OUT))
    for number, one in enumerate(
        Handover.objects.filter(line=line).values_list("photos__photo", flat=True).exclude(photos=None),
        start=1,
    ):
        yield _photo("photos-handover", number, Photo.objects.get(pk=one), "At the handover")
    yield from _walk_photos("photos-in", _walks(line, IN))
    pages = PreStartCopy.objects.filter(line=line).exclude(photo=None).select_related("photo")
    for number, page in enumerate(pages, start=1):
        if page.photo is not None:
            words = f"Their pre-starts, {week_words(page.week_on)}, sent by {page.sent_by_words}"
            yield _photo("photos-pre-starts", number, page.photo, words)
    said_words = DisputeWord.objects.filter(dispute__in=_disputes(line), photo__isnull=False).select_related(
        "photo", "dispute__docket"
    )
    for number, said in enumerate(said_words.order_by("made_at"), start=1):
        if said.photo is not None:
            yield _photo("photos-disputes", number, said.photo, f"{said.get_side_display()}, {said.dispute}")


def _walk_photos(folder: str, walks: QuerySet[WalkRound]) -> Iterator[PackFile]:
    rows = AnswerPhoto.objects.filter(answer__walk_round__in=walks).select_related(
        "answer__walk_round", "photo"
    )
    for number, row in enumerate(
        rows.order_by("answer__walk_round__signed_at", "answer__number", "number"), start=1
    ):
        where = f"{row.answer.title}{f', {row.answer.place}' if row.answer.place else ''}"
        yield _photo(folder, number, row.photo, f"{row.answer.walk_round.get_purpose_display()}: {where}")


def _photo(folder: str, number: int, photo: Photo, words: str) -> PackFile:
    words += f". As the camera wrote it, SHA-256 {photo.original_sha256}"
    return PackFile(
        f"{folder}/{number:03d}-{photo.stored_sha256[:12]}.jpg", words, partial(_kept, photo.stored_name)
    )


def _csv(name: str, head: Sequence[str], rows: Callable[[], Iterable[Sequence[object]]]) -> bytes:
    return csv_response(name, head, rows()).content


def _tables(line: Line) -> Iterator[PackFile]:
    readings, head = _readings(line), ("Meter", "Fitted", "Value", "Read", "From")
    yield PackFile(
        "meters.csv", "Meter readings of the hire",
        partial(
            _csv, "meters", head,
            lambda: (
                (row.meter.get_kind_display(), row.meter.fitted_at, row.value, row.read_at, row.source_kind) for row in readings
            ),
        ),
    )  # fmt: skip
    if line.back_at:
        compared = partial(
            _csv, "out-and-back", tables.COMPARED_HEAD, lambda: compared_table(read_record(line))
        )
        yield PackFile("out-and-back.csv", "How it left and how it came back, place by place", compared)
    if line.daily_dockets.exists():
        days = partial(daily_table, line.daily_dockets.for_list())
        yield PackFile(
            "daily-dockets.csv",
            "The operator’s days, replaced dockets among them",
            partial(_csv, "days", DAILY_HEAD, days),
        )
    if line.loads.exists():
        loads = partial(load_table, line.loads.for_list())
        yield PackFile(
            "loads.csv", "Loads of water, as they were tapped", partial(_csv, "loads", LOAD_HEAD, loads)
        )
    dockets = _dockets_of(line).prefetch_related("set_off")
    rows = partial(tables.docket_table, dockets)
    yield PackFile(
        "dockets.csv", "The lines of all dockets", partial(_csv, "dockets", tables.DOCKET_HEAD, rows)
    )
    argued = partial(money_tables.dispute_table, _disputes(line))
    yield PackFile(
        "disputes.csv", "What is disputed", partial(_csv, "disputes", money_tables.DISPUTE_HEAD, argued)
    )


def _dockets(line: Line) -> Iterator[PackFile]:
    for docket in _dockets_of(line).select_related("file"):
        stored = docket.file.stored_name if hasattr(docket, "file") else None
        yield PackFile(
            f"dockets/{docket.number}.pdf", f"Hire docket {docket.number}", partial(_kept, stored) if stored else _not_made
        )  # fmt: skip


def _journal(line: Line) -> bytes:
    entries = Entry.objects.filter(subject_kind="hire_line", subject_id=line.pk).order_by(
        "at", "chain", "position"
    )
    return "".join(f"{one.chain} {one.position} {one.hash}\n{one.text}\n\n" for one in entries).encode()
