"""Several photos after a repair: up to six are kept in their order with its step, a form that comes back brings them all back,
and a bad file is refused by its name while the others stay."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.models.defects import DefectStepPhoto
from fleet.models.photos import Photo
from people.journal.models import Entry
from people.roles import Role
from servicing.actions import repairs
from servicing.job_sheets import sheets
from tests.factories.fleet import DefectFactory
from tests.factories.servicing import NOW, fresh_photo
from tests.pages import queries_of, small_photo, text_of

pytestmark = pytest.mark.django_db

COLOURS = ("red", "green", "blue", "white", "black", "yellow", "grey", "pink")


def pictures(count, *, skip=0):
    return [small_photo(f"{colour}.jpg", colour=colour) for colour in COLOURS[skip : skip + count]]


def not_a_photo():
    return SimpleUploadedFile("notes.jpg", b"<svg onload=alert(1)>", "image/jpeg")


def step_of(defect):
    return reverse("servicing:defect_step", args=[defect.pk, "repair"])


def job_of(defect):
    return reverse("servicing:job_act", args=[defect.pk, "done"])


def page_of(defect):
    return reverse("servicing:defect_detail", args=[defect.pk])


def repaired(people, *, photos, **kwargs):
    defect = DefectFactory(state="in_repair", **kwargs)
    said = {"words": "New tap.", "by": people[Role.FITTER], "at": NOW, "photos": photos}
    return repairs.record_repair(defect=defect, version=1, **said)


def done_step(defect):
    return defect.steps.get(after_state="repaired")


@pytest.mark.parametrize("count", [0, 1, 2, 6])
def test_a_repair_keeps_its_photos_in_their_order(people, count):
    photos = [fresh_photo() for _ in range(count)]

    step = done_step(repaired(people, photos=photos))

    assert step.photos == photos
    assert step.photo == (photos[0] if photos else None)
    entry = Entry.objects.filter(event="fleet.repair.done").first()
    assert all(photo.original_sha256 in entry.text for photo in photos)


def test_one_photo_twice_is_one_and_a_seventh_is_refused_in_words(people):
    photo = fresh_photo()
    assert done_step(repaired(people, photos=[photo, photo])).photos == [photo]

    with pytest.raises(repairs.TooManyPhotos, match=r"7 photos came of the repair of .* and 6 are kept"):
        repaired(people, photos=[fresh_photo() for _ in range(7)])


def test_the_database_keeps_six_each_once_and_never_changes_them(people):
    step = done_step(repaired(people, photos=[fresh_photo() for _ in range(3)]))
    kept = step.further_photos.first()

    for place, photo in [(7, fresh_photo()), (1, fresh_photo()), (2, fresh_photo()), (4, kept.photo)]:
        with pytest.raises(IntegrityError), transaction.atomic():
            DefectStepPhoto.objects.create(step=step, photo=photo, place=place)
    with pytest.raises(IntegrityError, match="sealed"), transaction.atomic():
        DefectStepPhoto.objects.filter(pk=kept.pk).update(place=5)


@pytest.mark.parametrize("address", [step_of, job_of])
def test_several_are_sent_at_once_and_the_pages_and_the_paper_show_them_all(people, sign_in, address):
    client, defect = sign_in(people[Role.FITTER]), DefectFactory(state="in_repair")

    assert (
        client.post(address(defect), {"version": 1, "words": "Done.", "photos": pictures(6)}).status_code
        == 302
    )

    names = [str(photo.pk) for photo in done_step(defect).photos]
    assert len(set(names)) == 6
    paper = f"{reverse('servicing:job_sheets')}?defect={defect.pk}"
    for page in (page_of(defect), reverse("servicing:job_sheet", args=[defect.pk]), paper):
        text = text_of(client.get(page))
        size = "?size=print" if page == paper else ""
        places = [text.index(f'<img src="{reverse("fleet:photo", args=[name])}{size}"') for name in names]
        assert places == sorted(places)
        # Nobody scrolls down a page before it is printed.
        assert ('loading="lazy"' in text) == (page != paper)


@pytest.mark.parametrize("address", [step_of, job_of])
def test_a_form_that_comes_back_brings_them_all_back_in_their_order(people, sign_in, address):
    client, defect = sign_in(people[Role.FITTER]), DefectFactory(state="in_repair")

    refused = client.post(address(defect), {"version": 1, "words": " ", "photos": pictures(3)})

    assert refused.status_code == 422
    kept = [box.data["value"] for box in form_of(refused)["kept_photos"].subwidgets]
    assert [str(one) for one in kept] == form_of(refused)["kept_photos"].value()
    assert len(kept) == 3
    assert text_of(refused).count('class="kept-photo"') == 3
    again = {"version": 1, "words": "Done.", "kept_photos": kept[1:], "photos": pictures(2, skip=3)}
    assert client.post(address(defect), again).status_code == 302
    photos = [str(photo.pk) for photo in done_step(defect).photos]
    assert photos[:2] == [str(one) for one in kept[1:]]
    assert len(photos) == 4


def form_of(answer):
    return answer.context["form"]


def test_a_bad_file_is_refused_by_its_name_and_the_others_stay(people, sign_in):
    client, defect = sign_in(people[Role.FITTER]), DefectFactory(state="in_repair")
    red, green = pictures(2)

    refused = client.post(
        step_of(defect), {"version": 1, "words": "Done.", "photos": [red, not_a_photo(), green]}
    )

    assert refused.status_code == 422
    [sentence] = form_of(refused).errors["photos"]
    assert sentence.startswith("“notes.jpg” was not kept. This file is")
    assert len(form_of(refused)["kept_photos"].value()) == 2
    assert done_count(defect) == 0


def done_count(defect):
    return defect.steps.filter(after_state="repaired").count()


def test_more_than_six_are_not_taken_in_and_named(people, sign_in):
    client, defect = sign_in(people[Role.FITTER]), DefectFactory(state="in_repair")

    refused = client.post(step_of(defect), {"version": 1, "words": "Done.", "photos": pictures(8)})

    assert refused.status_code == 422
    assert [line.split(":")[0] for line in form_of(refused).errors["photos"]] == [
        "“grey.jpg” was not kept", "“pink.jpg” was not kept",
    ]  # fmt: skip
    assert Photo.objects.count() == 6
    kept = form_of(refused)["kept_photos"].value()
    swapped = {"version": 1, "words": "Done.", "kept_photos": kept[:5], "photos": pictures(1, skip=6)}
    assert client.post(step_of(defect), swapped).status_code == 302
    assert len(done_step(defect).photos) == 6


def test_photos_sent_with_a_step_that_takes_none_are_no_fault_of_ours(people, sign_in):
    client, defect = sign_in(people[Role.FITTER]), DefectFactory()
    start = reverse("servicing:defect_step", args=[defect.pk, "start"])

    assert client.post(start, {"version": 1, "photos": [not_a_photo()]}).status_code == 422
    assert client.post(start, {"version": 1, "photo": not_a_photo()}).status_code == 422


def test_six_photos_cost_as_many_queries_as_two(people, sign_in):
    client = sign_in(people[Role.FITTER])
    few, many = (repaired(people, photos=[fresh_photo() for _ in range(count)]) for count in (2, 6))

    assert queries_of(client, page_of(few)) == queries_of(client, page_of(many))

    def cost(defects):
        with CaptureQueriesContext(connection) as queries:
            found = sheets(
                type(few).objects.filter(pk__in=[one.pk for one in defects]), at=NOW + timedelta(hours=1)
            )
        assert all(sheet.photos_after for sheet in found)
        return len(queries)

    assert cost([few]) == cost([few, many])
