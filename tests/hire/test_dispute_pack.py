"""The dispute pack: every record of one hire in a ZIP, bytes unchanged, each with its hash, sent while it is made."""

import csv
import hashlib
import io
import uuid
import zipfile
from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse

from fleet.actions.photos import keep_photo
from fleet.models.photos import Photo
from fleet.photos import store
from hire.actions.breakdowns import Report, report_breakdown
from hire.actions.disputes import Said, open_dispute
from hire.actions.gate import bring_back, hand_over
from hire.actions.off_hire import PickUp, call_off
from hire.actions.stand_downs import StoodDown, stand_down
from hire.dispute_pack import pack_files, pack_index
from hire.models.money import DocketFile
from hire.models.off_hire import OffHire
from hire.zip_stream import PackFile, zip_stream
from inspections.certificates.models import Certificate, SealedFile
from inspections.models import WalkRound
from people.journal.models import Entry
from people.roles import Role
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.hire import CustomerLinkFactory, LineFactory, LoadFactory, given, ready_line
from tests.factories.money import AgreedTermsFactory, DepositEntryFactory, DocketFactory, DriverFactory
from tests.factories.wet import DailyDocketFactory, OperatorFactory
from tests.photo_samples import camera_jpeg

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def unzipped(parts):
    return zipfile.ZipFile(io.BytesIO(b"".join(parts)))


def no_index(packed):
    return ()


class TestTheStream:
    def test_it_sends_each_file_as_it_comes_and_lists_them_all(self):
        asked = []

        def read(name):
            asked.append(name)
            return name.encode() * 4000

        files = [PackFile(f"{name}.txt", name, lambda name=name: read(name)) for name in "ab"]
        files.append(PackFile("gone.pdf", "Gone", lambda: None))
        listed = []

        def index(packed):
            listed.extend(packed)
            return [("index.html", b"list")]

        stream = zip_stream(files, index=index, at=NOON)
        next(stream)
        assert asked == ["a"]
        found = unzipped(zip_stream(files, index=index, at=NOON))
        assert found.testzip() is None
        assert found.namelist() == ["a.txt", "b.txt", "index.html"]
        assert found.read("b.txt") == b"b" * 4000
        assert [(one.path, one.size_bytes, one.sha256) for one in listed] == [
            ("a.txt", 4000, hashlib.sha256(b"a" * 4000).hexdigest()),
            ("b.txt", 4000, hashlib.sha256(b"b" * 4000).hexdigest()),
            ("gone.pdf", 0, None),
        ]

    def test_the_same_files_give_the_same_bytes_hardly_more_than_they_are(self):
        photos = [
            PackFile(f"{n}.jpg", "x", lambda n=n: camera_jpeg(width=400, height=300, seed=n))
            for n in range(5)
        ]
        first, second = (b"".join(zip_stream(photos, index=no_index, at=NOON)) for _ in range(2))
        assert first == second
        types = [one.compress_type for one in unzipped([first]).infolist()]
        assert types == [zipfile.ZIP_STORED] * 5
        # Some 120 bytes a file and its name twice: what is packed already is not packed again.
        assert len(first) - sum(len(one.read()) for one in photos) < 5 * 200

    def test_two_files_of_one_name_are_told(self):
        twice = [PackFile("a", "x", lambda: b"1")] * 2
        with pytest.raises(ValueError, match="Two files of the pack are called a"):
            list(zip_stream(twice, index=no_index, at=NOON))


def photo(seed, by, at):
    return keep_photo(raw=camera_jpeg(width=400, height=300, seed=seed), expected_sha256=None, by=by, at=at)


@pytest.fixture
def argued(line, desk, hand, at):
    """A hire from the gate to a dispute, its papers sealed with bytes of our own, and a stranger's hire beside it."""
    AgreedTermsFactory(line=line)
    hand_over(line=line, given=given(photos=(photo(1, desk, at),)), by=desk, at=at)
    for paper in Certificate.objects.filter(subject_id=line.pk):
        pdf = f"%PDF-1.7 sealed {paper.number}".encode()
        SealedFile(
            certificate=paper, sha256=hashlib.sha256(pdf).hexdigest(), size_bytes=len(pdf), stored_name=store.put(pdf, ".pdf"),
            seal_fingerprint="0" * 64, sealed_at=at,
        ).save(force_insert=True)  # fmt: skip
    DriverFactory(line=line)
    DepositEntryFactory(agreement=line.agreement)
    docket = DocketFactory(line=line)
    pdf = store.put(b"%PDF-1.7 docket", ".pdf")
    DocketFile(docket=docket, sha256="0" * 64, stored_name=pdf, made_at=at).save(force_insert=True)
    later = at + 2 * DAY
    stand_down(
        line=line, on=(at + DAY).date(), why="Rain", told_by_words="Aoife", by=desk, at=later,
        facts=StoodDown(told_at=at + DAY, customer_words="Bogged to the axles", yard_words="Our gauge showed 2 mm"),
    )  # fmt: skip
    said = Said("It stood all week", "Aoife Merrin", "phone", later, photo=photo(2, desk, at))
    open_dispute(docket=docket, line_no=1, said=said, by=desk, at=later)
    call_off(
        line=line,
        called_at=later,
        called_by_words="Aoife",
        pick_up=PickUp("Gate", "Office", "They"),
        by=desk,
        at=later,
    )
    walk.sign(line.cart, "as_returned", by=hand, at=later + HOUR)
    DocketFactory(line=LineFactory(agreement__customer__name="Somebody Else Pty"))
    line.refresh_from_db()
    return line


def made(line, at):
    index = pack_index(line, at=at, by_words="Dot Farrugia")
    return unzipped(zip_stream(pack_files(line, at=at), index=index, at=at))


@pytest.mark.django_db
def test_it_has_all_of_one_hire_with_bytes_unchanged(argued, at):
    pack = made(argued, at + 3 * DAY)
    names = pack.namelist()
    folders = {name.split("/")[0] for name in names if "/" in name}
    assert folders == {"papers", "checks", "photos-handover", "photos-disputes", "dockets"}
    papers = list(Certificate.objects.filter(subject_id=argued.pk))
    assert {paper.kind for paper in papers} == {"pre_hire", "receipt"}
    for paper in papers:
        assert pack.read(f"papers/{paper.number}.pdf") == f"%PDF-1.7 sealed {paper.number}".encode()
    signed = {hashlib.sha256(pack.read(name)).hexdigest() for name in names if name.startswith("checks/")}
    assert signed == set(WalkRound.objects.values_list("manifest_sha256", flat=True))
    kept = {hashlib.sha256(pack.read(name)).hexdigest() for name in names if name.startswith("photos-")}
    assert kept == set(Photo.objects.filter(stored_name__in=_shown()).values_list("stored_sha256", flat=True))
    assert "Engine hours" in pack.read("meters.csv").decode()
    record = pack.read("hire.html").decode()
    for words in (
        "Bogged to the axles",
        "Our gauge showed 2 mm",
        "It stood all week",
        "O2026-00001",
        "Kit Arden",
        "500.00",
    ):
        assert words in record
    rows = list(csv.reader(io.StringIO(pack.read("disputes.csv").decode("utf-8-sig"))))
    assert len(rows) == 2
    assert all(b"Somebody Else" not in pack.read(name) for name in names)
    assert Entry.objects.filter(subject_id=argued.pk).first().hash in pack.read("journal.txt").decode()


@pytest.mark.django_db
def test_loads_days_and_how_it_came_back_are_in_it_and_a_swapped_carts_dockets(argued, hand, at):
    LoadFactory(line=argued)
    DailyDocketFactory(
        turn=None, line=argued, operator=OperatorFactory(), on=at.date(), unsigned_why="Gate shut"
    )
    other = LineFactory(agreement=argued.agreement, starts_at=at + 2 * DAY, out_at=at + 2 * DAY)
    calls = OffHire.objects.filter(line=argued)
    calls.update(replaced_by=other, replaced_why="Pump seized")
    last = DocketFactory(line=other)
    bring_back(line=argued, by=hand, at=at + 3 * DAY, where_words="Wash bay", keys_words="Board")
    argued.refresh_from_db()
    pack = made(argued, at + 3 * DAY)
    for name in ("loads.csv", "daily-dockets.csv", "out-and-back.csv"):
        assert len(pack.read(name).decode().splitlines()) > 1, name
    assert last.number in pack.read("dockets.csv").decode()


@pytest.mark.django_db
def test_what_was_photographed_while_out_is_in_it(argued, at):
    shown = camera_jpeg(width=400, height=300, seed=7)
    report = Report(uuid.uuid4(), "Hose burst", can_be_driven=False, phone="0491 570 110", photo=shown)
    report_breakdown(link=CustomerLinkFactory(line=argued, made_at=at), report=report, at=at + HOUR)
    pack = made(argued, at + 3 * DAY)
    [name] = [name for name in pack.namelist() if name.startswith("photos-breakdown/")]
    kept = Photo.objects.get(original_sha256=hashlib.sha256(shown).hexdigest())
    assert hashlib.sha256(pack.read(name)).hexdigest() == kept.stored_sha256
    assert "Broken down: Hose burst. As the camera wrote it" in pack.read("index.html").decode()
    assert "Hose burst." in pack.read("hire.html").decode()


@pytest.fixture
def swapped(argued, desk, hand, at):
    """Swapped for RG08, which left by the gate and came back; asked for at either of the two it is one hire."""
    call = OffHire.objects.get(line=argued)
    other = ready_line(
        hand=hand, at=at + 3 * DAY, agreement=argued.agreement, cart=CartFactory(fleet_number="RG08", tyres=True),
        starts_at=call.stops_at, ends_at=at + 9 * DAY,
    )  # fmt: skip
    OffHire.objects.filter(pk=call.pk).update(replaced_by=other, replaced_why="Pump seized")
    bring_back(line=argued, by=hand, at=at + 2 * DAY + 2 * HOUR, where_words="Wash bay", keys_words="Board")
    hand_over(line=other, given=given(photos=(photo(3, desk, at),)), by=desk, at=at + 3 * DAY)
    stand_down(
        line=other, on=(at + 4 * DAY).date(), why="Gate shut", told_by_words="Col", by=desk, at=at + 5 * DAY
    )
    LoadFactory(line=argued, taken_at=at + HOUR)
    LoadFactory(line=other, taken_at=at + 4 * DAY)
    for one, day in ((argued, at), (other, at + 4 * DAY)):
        DailyDocketFactory(
            turn=None, line=one, operator=OperatorFactory(), on=day.date(), unsigned_why="Gate shut"
        )
    walk.sign(other.cart, "daily", by=hand, at=at + 4 * DAY)
    bring_back(line=other, by=hand, at=at + 5 * DAY, where_words="Wash bay", keys_words="Board")
    walk.sign(other.cart, "as_returned", by=hand, at=at + 5 * DAY + HOUR)
    argued.refresh_from_db()
    other.refresh_from_db()
    return argued, other


def column(pack, name, heading):
    rows = list(csv.DictReader(io.StringIO(pack.read(name).decode("utf-8-sig"))))
    return [row[heading] for row in rows]


@pytest.mark.django_db
def test_a_swapped_hire_is_there_with_both_its_carts_whichever_is_asked_for(swapped, at):
    packs = [made(line, at + 6 * DAY) for line in swapped]
    assert packs[0].namelist() == packs[1].namelist()
    pack, names = packs[0], packs[0].namelist()
    signed = {hashlib.sha256(pack.read(name)).hexdigest() for name in names if name.startswith("checks/")}
    assert signed == set(WalkRound.objects.values_list("manifest_sha256", flat=True))
    for folder in ("checks/", "photos-handover/"):
        inside = [name for name in names if name.startswith(folder)]
        assert any("rg07" in name for name in inside)
        assert any("rg08" in name for name in inside)
    kept = {
        hashlib.sha256(pack.read(name)).hexdigest() for name in names if name.startswith("photos-handover/")
    }
    assert len(kept) == 2
    for name in ("meters.csv", "out-and-back.csv", "stand-downs.csv", "loads.csv", "daily-dockets.csv"):
        carts = column(pack, name, "Cart")
        assert list(dict.fromkeys(carts)) == ["RG07", "RG08"], name
    record = pack.read("hire.html").decode()
    first, second = record.index("<h2>RG07</h2>"), record.index("<h2>RG08</h2>")
    assert record.count("Taken over by Aoife Merrin") == 2
    assert first < record.index("Swapped for RG08: Pump seized") < second
    for words in ("RG07, ", "Gate shut", "Bogged to the axles", "Kit Arden"):
        assert words in record
    journal = pack.read("journal.txt").decode()
    for line in swapped:
        for entry in Entry.objects.filter(subject_id=line.pk):
            assert entry.hash in journal
        assert f"{line.cart.fleet_number}: " in pack.read("index.html").decode()
    assert "Somebody Else" not in record


@pytest.mark.django_db
def test_the_page_of_a_single_cart_names_it_alone(argued, at):
    record = made(argued, at + 3 * DAY).read("hire.html").decode()
    assert "<h2>RG07</h2>" in record
    assert "Swapped for" not in record


def _shown():
    return [one.stored_name for one in Photo.objects.order_by("received_at")][:2]


@pytest.mark.django_db
def test_rounds_of_the_hires_before_and_after_stay_out(argued, hand, at):
    out = {"cart": argued.cart, "starts_at": at - 6 * DAY, "ends_at": at - 5 * DAY}
    LineFactory(**out, out_at=at - 6 * DAY, came_back_at=at - 5 * DAY)
    others = [walk.sign(argued.cart, "pre_hire", by=hand, at=at - 6 * DAY - HOUR)]
    others.append(walk.sign(argued.cart, "as_returned", by=hand, at=at - 5 * DAY))
    names = " ".join(made(argued, at + 3 * DAY).namelist())
    assert "pre_hire" in names
    for other in others:
        assert str(other.pk)[:8] not in names


@pytest.mark.django_db
def test_the_index_names_every_file_by_its_hash(argued, at):
    pack = made(argued, at + 3 * DAY)
    sums = dict(reversed(one.split("  ")) for one in pack.read("SHA256SUMS").decode().splitlines())
    index = pack.read("index.html").decode()
    assert set(sums) == set(pack.namelist()) - {"index.html", "SHA256SUMS"}
    for name, sha256 in sums.items():
        assert hashlib.sha256(pack.read(name)).hexdigest() == sha256
        assert sha256 in index
        assert name in index
    assert "Not in the pack" not in index


@pytest.mark.django_db
def test_what_cannot_be_had_is_named_and_stops_nothing(argued, at, settings):
    DocketFactory(line=argued, number="D2025-99999")
    file = SealedFile.objects.filter(certificate__kind="receipt").get()
    store._storage().delete(file.stored_name)
    pack = made(argued, at + 3 * DAY)
    missing = pack.read("index.html").decode().split("Not in the pack")[1].split("</p>")[0]
    assert "D2025-99999" in missing
    assert file.certificate.number in missing
    assert f"papers/{file.certificate.number}.pdf" not in pack.namelist()


@pytest.mark.django_db
def test_one_button_and_only_for_the_desk_and_the_fleet_manager(argued, client, people):
    address = reverse("hire:dispute_pack", args=[argued.pk])
    for role in Role:
        client.force_login(people[role])
        answer = client.post(address)
        if role not in (Role.HIRE_DESK, Role.FLEET_MANAGER):
            assert answer.status_code == 403
            continue
        assert answer["Content-Type"] == "application/zip"
        assert argued.agreement.number in answer["Content-Disposition"]
        assert answer.streaming
        assert unzipped(answer.streaming_content).testzip() is None
    assert Entry.objects.filter(event="hire.dispute_pack.taken").count() == 2
    assert client.get(address).status_code == 405
    assert "Save the dispute pack" in client.get(reverse("hire:charges", args=[argued.pk])).content.decode()
