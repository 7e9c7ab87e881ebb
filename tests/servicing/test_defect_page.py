"""One defect on its page: what it tells, what it offers whom, and what a posted step does and keeps."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from fleet.models.photos import Photo
from people.roles import WALKERS, Role
from tests.factories.fleet import DefectFactory
from tests.pages import small_photo, text_of

pytestmark = pytest.mark.django_db


def page_of(defect):
    return reverse("servicing:defect_detail", args=[defect.pk])


def step_of(defect, step):
    return reverse("servicing:defect_step", args=[defect.pk, step])


@pytest.mark.parametrize("role", list(Role))
def test_a_step_is_posted_by_walkers_alone(people, sign_in, role):
    answer = sign_in(people[role]).post(
        step_of(DefectFactory(state="repaired"), "second-look"), {"version": 1}
    )

    assert answer.status_code == (302 if role in WALKERS else 403)


def test_a_yard_hand_may_not_post_a_manager_s_step(people, sign_in):
    defect = DefectFactory()

    assert sign_in(people[Role.YARD_HAND]).post(step_of(defect, "look"), {"version": 1}).status_code == 403


def test_an_unknown_step_is_not_there(people, sign_in):
    client = sign_in(people[Role.FITTER])

    assert client.post(step_of(DefectFactory(), "weld"), {"version": 1}).status_code == 404


def test_a_step_s_address_without_a_form_shows_the_defect(people, sign_in):
    defect = DefectFactory()

    assert sign_in(people[Role.FITTER]).get(step_of(defect, "start")).headers["Location"] == page_of(defect)


def test_a_defect_tells_its_steps_what_it_stops_and_where_it_is(people, sign_in):
    defect = DefectFactory()

    page = text_of(sign_in(people[Role.HIRE_DESK]).get(page_of(defect)))

    assert "It stops the cart from leaving until its repair has had a second look." in page
    assert "Cut in the side wall (2LO), do not use; nobody has looked at it yet." in page
    assert "Told: do not use" in page
    assert "Next: the workshop manager looks at it and sets its grade" in page
    assert 'class="lap"' in page
    assert "Nothing now." in page


@pytest.mark.parametrize(
    ("role", "state", "offered"),
    [
        (Role.YARD_HAND, "reported", []),
        (Role.FITTER, "reported", ["start"]),
        (Role.WORKSHOP_MANAGER, "reported", ["look", "start", "limit", "put-off", "no-fault"]),
        (Role.FITTER, "assessed", ["start", "repair"]),
        (Role.FITTER, "in_repair", ["repair"]),
        (Role.YARD_HAND, "repaired", ["second-look", "send-back"]),
        (Role.HIRE_DESK, "repaired", []),
        (Role.FLEET_MANAGER, "verified", []),
    ],
)
def test_a_defect_offers_exactly_what_its_reader_may_do_now(people, sign_in, role, state, offered):
    defect = DefectFactory(grade="watch", state=state, gear="cannon", station="tank_top", place="")

    answer = sign_in(people[role]).get(page_of(defect))

    assert [sheet.offer.key for sheet in answer.context["sheets"]] == offered


def test_do_not_use_offers_no_closing_as_no_fault_and_asks_for_two_to_be_eased(people, sign_in):
    answer = sign_in(people[Role.WORKSHOP_MANAGER]).get(page_of(DefectFactory()))

    assert [sheet.offer.key for sheet in answer.context["sheets"]] == ["look", "start"]
    assert {"second_name", "photo"} <= answer.context["sheets"][0].form.fields.keys()


def test_whoever_repaired_it_is_told_why_there_is_no_second_look_to_give(people, sign_in):
    defect = DefectFactory(state="repaired", repaired_by=people[Role.FITTER])

    answer = sign_in(people[Role.FITTER]).get(page_of(defect))

    assert "You repaired this yourself, so somebody else gives it the second look." in text_of(answer)
    assert "second-look" not in [sheet.offer.key for sheet in answer.context["sheets"]]


def test_a_whole_repair_goes_through_the_pages(people, sign_in):
    defect = DefectFactory()
    client = sign_in(people[Role.FITTER])

    started = client.post(step_of(defect, "start"), {"version": 1}, follow=True)
    assert f"{defect.title} on {defect.cart.fleet_number} is on the job." in text_of(started)
    client.post(step_of(defect, "repair"), {"version": 2, "words": "New tyre.", "photos": small_photo()})
    client.force_login(people[Role.YARD_HAND])
    closed = client.post(step_of(defect, "second-look"), {"version": 3, "words": ""}, follow=True)

    assert "has had its second look." in text_of(closed)
    defect.refresh_from_db()
    assert (defect.state, defect.repaired_by, defect.verified_by) == (
        "verified",
        people[Role.FITTER],
        people[Role.YARD_HAND],
    )
    assert defect.steps.get(after_state="repaired").photo == Photo.objects.get()


def test_easing_do_not_use_through_the_page_takes_its_photo_with_it(people, sign_in):
    defect = DefectFactory()
    typed = {
        "version": 1,
        "grade": "watch",
        "words": "No cord.",
        "second_name": "Una Sorrel",
        "photo": small_photo(),
    }

    assert sign_in(people[Role.WORKSHOP_MANAGER]).post(step_of(defect, "look"), typed).status_code == 302

    defect.refresh_from_db()
    assert defect.grade == "watch"
    assert defect.steps.get(before_grade="do_not_use", after_grade="watch").photo == Photo.objects.get()


def test_a_refused_form_keeps_what_was_typed_and_the_photo_that_was_sent(people, sign_in):
    defect = DefectFactory()
    client = sign_in(people[Role.WORKSHOP_MANAGER])
    typed = {
        "version": 1,
        "grade": "watch",
        "words": "A flap, <b>no</b> cord.",
        "second_name": "",
        "photo": small_photo(),
    }

    answer = client.post(step_of(defect, "look"), typed)

    assert answer.status_code == 422
    page = text_of(answer)
    assert "> A flap, &lt;b&gt;no&lt;/b&gt; cord.</textarea>" in page
    assert "Second person: Easing “do not use” takes" in page
    assert "The photo you sent is kept" in page
    assert "<title>Not saved:" in page
    kept = answer.context["form"]["kept_photo"].value()
    again = {
        "version": 1,
        "grade": "watch",
        "words": "No cord.",
        "second_name": "Una Sorrel",
        "kept_photo": kept,
    }
    assert client.post(step_of(defect, "look"), again).status_code == 302
    assert str(defect.steps.get(after_grade="watch").photo_id) == kept


@pytest.mark.parametrize(
    ("step", "state", "typed"),
    [
        ("look", "reported", {"grade": "terrible"}),
        ("look", "reported", {"grade": "by_date", "due_on": "soon"}),
        ("look", "reported", {"grade": "watch", "assigned_to": "nobody"}),
        ("repair", "in_repair", {"words": ""}),
        ("repair", "in_repair", {"words": "x" * 2001}),
        ("send-back", "repaired", {"words": " "}),
        ("no-fault", "reported", {"words": ""}),
        ("limit", "reported", {"words": "No cannon.", "how_isolated": "", "tag_number": "L1"}),
        ("start", "reported", {"version": ""}),
        ("start", "reported", {"version": "one"}),
        ("repair", "in_repair", {"words": "Done.", "kept_photos": "not-a-photo"}),
        ("repair", "in_repair", {"words": "Done.", "kept_photos": "5e1f0d2c-8a43-4b8e-9f0e-0d6f4a1f2b3c"}),
        ("second-look", "repaired", {"words": "Holds.", "kept_photo": "not-a-photo"}),
    ],
)
def test_bad_input_changes_nothing_and_comes_back_with_its_fault(people, sign_in, step, state, typed):
    defect = DefectFactory(grade="watch", state=state, gear="cannon", station="tank_top", place="")

    answer = sign_in(people[Role.FLEET_MANAGER]).post(step_of(defect, step), {"version": 1} | typed)

    assert answer.status_code == 422
    assert 'role="alert"' in text_of(answer)
    before = (defect.state, defect.grade, 1)
    defect.refresh_from_db()
    assert (defect.state, defect.grade, defect.version) == before


def test_a_file_that_is_no_photo_is_refused_in_words(people, sign_in):
    defect = DefectFactory(state="in_repair")
    file = SimpleUploadedFile("photo.jpg", b"<svg onload=alert(1)>", "image/jpeg")

    answer = sign_in(people[Role.FITTER]).post(
        step_of(defect, "repair"), {"version": 1, "words": "Done.", "photos": file}
    )

    assert answer.status_code == 422
    assert answer.context["form"].errors["photos"]
    assert "Done." in text_of(answer)
    assert not Photo.objects.exists()


def test_somebody_else_s_change_is_shown_before_the_form_may_be_sent_again(people, sign_in):
    defect = DefectFactory(state="in_repair", version=3)
    client = sign_in(people[Role.FITTER])

    answer = client.post(step_of(defect, "repair"), {"version": 2, "words": "New tap fitted."})

    assert answer.status_code == 422
    page = text_of(answer)
    assert "was changed by somebody else meanwhile. Look at how it stands now, then decide again." in page
    assert "New tap fitted." in page
    assert answer.context["form"]["version"].value() == "3"
    assert (
        client.post(step_of(defect, "repair"), {"version": 3, "words": "New tap fitted."}).status_code == 302
    )


def test_words_typed_for_a_step_that_is_gone_are_given_back(people, sign_in):
    defect = DefectFactory(state="verified", version=4)

    answer = sign_in(people[Role.FITTER]).post(
        step_of(defect, "repair"), {"version": 3, "words": "New tap fitted."}
    )

    assert answer.status_code == 422
    assert "What you typed was not used." in text_of(answer)
    assert "New tap fitted." in text_of(answer)
