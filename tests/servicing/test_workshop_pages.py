"""The workshop's pages: who may open which, what a form posts and keeps, and that long lists cost no more than short ones."""

import re
import uuid
from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from fleet.models.carts import ReadingQuestion
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from people.roles import EVERYBODY, WALKERS, WORKSHOP, Role
from tests.factories.fleet import (
    CartFactory,
    DefectFactory,
    ExtinguisherFactory,
    HoldFactory,
    LimitFactory,
    PassFactory,
    TreadReadingFactory,
    TyreFittingFactory,
)
from tests.factories.people import StaffFactory
from tests.factories.servicing import line_of

pytestmark = pytest.mark.django_db
QUEUE = "/workshop/"


def page_of(defect):
    return reverse("servicing:defect_detail", args=[defect.pk])


def step_of(defect, step):
    return reverse("servicing:defect_step", args=[defect.pk, step])


def picture(colour="red"):
    raw = BytesIO()
    Image.new("RGB", (64, 48), colour).save(raw, "JPEG")
    return SimpleUploadedFile("cut.jpg", raw.getvalue(), "image/jpeg")


def text(response):
    return re.sub(r"\s+", " ", response.content.decode())


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize(
    ("address", "roles"),
    [
        (lambda _: QUEUE, WORKSHOP),
        (lambda _: "/workshop/holds/", WORKSHOP),
        (lambda _: "/workshop/tell/", EVERYBODY),
        (page_of, EVERYBODY),
    ],
    ids=["queue", "holds", "tell", "defect"],
)
def test_each_page_opens_for_its_roles_alone(people, sign_in, role, address, roles):
    answer = sign_in(people[role]).get(address(DefectFactory()))

    assert answer.status_code == (200 if role in roles else 403)


@pytest.mark.parametrize("role", list(Role))
def test_a_step_is_posted_by_walkers_alone(people, sign_in, role):
    answer = sign_in(people[role]).post(
        step_of(DefectFactory(state="repaired"), "second-look"), {"version": 1}
    )

    assert answer.status_code == (302 if role in WALKERS else 403)


def test_a_yard_hand_may_not_post_a_manager_s_step(people, sign_in):
    defect = DefectFactory()

    assert sign_in(people[Role.YARD_HAND]).post(step_of(defect, "look"), {"version": 1}).status_code == 403


def test_signed_out_nothing_opens(client):
    assert client.get(QUEUE).headers["Location"].startswith("/sign-in/")


def test_an_unknown_step_or_defect_is_not_there(people, sign_in):
    client = sign_in(people[Role.FITTER])

    assert client.post(step_of(DefectFactory(), "weld"), {"version": 1}).status_code == 404
    assert client.get(f"/workshop/{uuid.uuid4()}/").status_code == 404


def test_a_step_s_address_without_a_form_shows_the_defect(people, sign_in):
    defect = DefectFactory()

    assert sign_in(people[Role.FITTER]).get(step_of(defect, "start")).headers["Location"] == page_of(defect)


def test_the_queue_with_nothing_in_it_says_so(people, sign_in):
    assert "No defects are open." in text(sign_in(people[Role.FITTER]).get(QUEUE))


def test_a_row_says_cart_place_grade_time_in_hand_state_and_one_next_step(people, sign_in):
    now = timezone.now()
    cart = CartFactory()
    line_of(cart, starts_at=now + timedelta(hours=5, minutes=30))
    defect = DefectFactory(cart=cart, told_at=now - timedelta(minutes=1))

    page = text(sign_in(people[Role.WORKSHOP_MANAGER]).get(QUEUE))

    for words in (cart.fleet_number, defect.title, "Left rear wheels, 2LO", "do not use", "told today"):
        assert words in page
    assert "3 h 29 min in hand" in page
    assert f'aria-label="Look at it: {defect.title} on {cart.fleet_number}"' in page
    assert "common practice, no source" in page


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ("grade=watch", {"Weep"}),
        ("state=assessed", {"Mirror"}),
        ("cart=n 7", {"Weep"}),
        ("grade=watch&state=assessed", set()),
        ("grade=awful&state=&person=x", {"Weep", "Mirror"}),
    ],
)
def test_filters_live_in_the_address_and_a_bad_one_narrows_nothing(people, sign_in, query, shown):
    DefectFactory(title="Weep", grade="watch", cart=CartFactory(fleet_number="N-7"))
    DefectFactory(title="Mirror", grade="by_date", state="assessed", cart=CartFactory(fleet_number="X1"))

    page = text(sign_in(people[Role.FITTER]).get(f"{QUEUE}?{query}"))

    assert {title for title in ("Weep", "Mirror") if f"<b>{title}</b>" in page} == shown


def test_the_queue_is_narrowed_to_one_person_s_jobs(people, sign_in):
    DefectFactory(title="Weep", state="in_repair", assigned_to=people[Role.FITTER])
    DefectFactory(title="Mirror")

    page = text(sign_in(people[Role.FITTER]).get(f"{QUEUE}?person={people[Role.FITTER].pk}"))

    assert "<b>Weep</b>" in page
    assert "<b>Mirror</b>" not in page


def test_repairs_this_person_may_look_at_come_first_and_their_own_do_not(people, sign_in):
    DefectFactory(title="Mine", state="repaired", repaired_by=people[Role.FITTER])
    DefectFactory(title="Theirs", state="repaired")

    answer = sign_in(people[Role.FITTER]).get(QUEUE)

    assert [row.defect.title for row in answer.context["second"]] == ["Theirs"]
    assert [row.defect.title for row in answer.context["rows"]] == ["Mine"]
    assert [row.next_word for row in answer.context["second"]] == ["Give a second look"]
    assert [row.next_word for row in answer.context["rows"]] == ["Open it"]


def test_the_queue_is_paged_in_fifties_and_keeps_its_filters(people, sign_in):
    cart = CartFactory()
    teller = StaffFactory()
    for _ in range(51):
        DefectFactory(cart=cart, told_by=teller)
    client = sign_in(people[Role.FITTER])

    first, second = client.get(f"{QUEUE}?grade=do_not_use"), client.get(f"{QUEUE}?grade=do_not_use&page=2")

    assert [len(answer.context["rows"]) for answer in (first, second)] == [50, 1]
    assert "?grade=do_not_use&amp;page=2" in first.content.decode()


def queries_of(client, address):
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


@pytest.mark.parametrize("address", [QUEUE, "/workshop/holds/"])
def test_thirty_rows_cost_as_many_queries_as_three(people, sign_in, address):
    """Session, person, open alerts; then the queue: keys, carts, needs, rows, people to choose; or the four lists and a count."""
    now = timezone.now()
    client = sign_in(people[Role.WORKSHOP_MANAGER])

    def more(count):
        for number in range(count):
            cart = CartFactory()
            line_of(cart, starts_at=now + timedelta(hours=number + 1))
            DefectFactory(cart=cart)
            DefectFactory(cart=cart, state="repaired")
            HoldFactory(cart=cart)
            PassFactory()
            LimitFactory()
            ReadingQuestion.objects.create(
                cart=cart, subject="engine_hours", value="8100.0", read_at=now, question="Which is right?",
                source_kind="walk_round", source_id=uuid.uuid4(),
            )  # fmt: skip

    more(3)
    few = queries_of(client, address)
    more(27)

    assert queries_of(client, address) == few


def test_a_defect_tells_its_steps_what_it_stops_and_where_it_is(people, sign_in):
    defect = DefectFactory()

    page = text(sign_in(people[Role.HIRE_DESK]).get(page_of(defect)))

    assert "It stops the cart from leaving until its repair has had a second look." in page
    assert "Cut in the side wall (2LO), do not use; told." in page
    assert "Told: do not use" in page
    assert "Next: the workshop manager looks at it and sets its grade" in page
    assert 'class="lap"' in page
    assert "Nothing now." in page


@pytest.mark.parametrize(
    ("role", "state", "offered"),
    [
        (Role.YARD_HAND, "reported", []),
        (Role.FITTER, "reported", ["start"]),
        (Role.WORKSHOP_MANAGER, "reported", ["look", "start", "limit", "no-fault"]),
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

    assert "You repaired this yourself, so somebody else gives it the second look." in text(answer)
    assert "second-look" not in [sheet.offer.key for sheet in answer.context["sheets"]]


def test_a_whole_repair_goes_through_the_pages(people, sign_in):
    defect = DefectFactory()
    client = sign_in(people[Role.FITTER])

    started = client.post(step_of(defect, "start"), {"version": 1}, follow=True)
    assert f"{defect.title} on {defect.cart.fleet_number} is on the job." in text(started)
    client.post(step_of(defect, "repair"), {"version": 2, "words": "New tyre.", "photo": picture()})
    client.force_login(people[Role.YARD_HAND])
    closed = client.post(step_of(defect, "second-look"), {"version": 3, "words": ""}, follow=True)

    assert "has had its second look." in text(closed)
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
        "photo": picture(),
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
        "photo": picture(),
    }

    answer = client.post(step_of(defect, "look"), typed)

    assert answer.status_code == 422
    page = text(answer)
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
        ("repair", "in_repair", {"words": "Done.", "kept_photo": "not-a-photo"}),
    ],
)
def test_bad_input_changes_nothing_and_comes_back_with_its_fault(people, sign_in, step, state, typed):
    defect = DefectFactory(grade="watch", state=state, gear="cannon", station="tank_top", place="")

    answer = sign_in(people[Role.FLEET_MANAGER]).post(step_of(defect, step), {"version": 1} | typed)

    assert answer.status_code == 422
    assert 'role="alert"' in text(answer)
    before = (defect.state, defect.grade, 1)
    defect.refresh_from_db()
    assert (defect.state, defect.grade, defect.version) == before


def test_a_file_that_is_no_photo_is_refused_in_words(people, sign_in):
    defect = DefectFactory(state="in_repair")
    file = SimpleUploadedFile("photo.jpg", b"<svg onload=alert(1)>", "image/jpeg")

    answer = sign_in(people[Role.FITTER]).post(
        step_of(defect, "repair"), {"version": 1, "words": "Done.", "photo": file}
    )

    assert answer.status_code == 422
    assert answer.context["form"].errors["photo"]
    assert "Done." in text(answer)
    assert not Photo.objects.exists()


def test_somebody_else_s_change_is_shown_before_the_form_may_be_sent_again(people, sign_in):
    defect = DefectFactory(state="in_repair", version=3)
    client = sign_in(people[Role.FITTER])

    answer = client.post(step_of(defect, "repair"), {"version": 2, "words": "New tap fitted."})

    assert answer.status_code == 422
    page = text(answer)
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
    assert "What you typed was not used." in text(answer)
    assert "New tap fitted." in text(answer)


def told(cart, **typed):
    return {
        "told_id": str(uuid.uuid4()),
        "cart": cart.pk,
        "title": "Hose weeping",
        "station": "rear",
        "grade": "watch",
    } | typed


@pytest.mark.parametrize("role", list(Role))
def test_anybody_may_tell_a_defect_once_however_often_the_form_is_sent(people, sign_in, role):
    cart, client = CartFactory(), sign_in(people[role])
    typed = told(cart, photo=picture())

    for _ in range(2):
        client.post("/workshop/tell/", typed)
        typed["photo"] = picture()

    defect = Defect.objects.get()
    assert (defect.title, defect.told_by, defect.second_look_always) == ("Hose weeping", people[role], True)
    assert defect.photos.count() == 1


def test_a_defect_told_by_hand_has_no_walk_round_to_open(people, sign_in):
    client = sign_in(people[Role.FITTER])
    client.post("/workshop/tell/", told(CartFactory()))

    assert client.get(page_of(Defect.objects.get())).context["source_url"] == ""


@pytest.mark.parametrize(
    "wrong",
    [{"title": ""}, {"title": "x" * 81}, {"station": "moon"}, {"grade": ""}, {"cart": str(uuid.UUID(int=1))}, {"told_id": "x"}],
    ids=["no title", "long title", "no such place", "no grade", "no such cart", "no id"],
)  # fmt: skip
def test_telling_too_little_comes_back_with_what_was_typed(people, sign_in, wrong):
    answer = sign_in(people[Role.YARD_HAND]).post(
        "/workshop/tell/", told(CartFactory(), words="By the <coupling>.") | wrong
    )

    assert answer.status_code == 422
    assert "By the &lt;coupling&gt;." in text(answer)
    assert not Defect.objects.exists()


def test_the_cart_is_chosen_already_when_telling_from_its_page(people, sign_in):
    cart = CartFactory()

    page = text(sign_in(people[Role.YARD_HAND]).get(f"/workshop/tell/?cart={cart.pk}"))

    assert f'<option value="{cart.pk}" selected>' in page


@pytest.mark.parametrize("query", ["?cart=x", "?cart="])
def test_a_bad_cart_in_the_address_is_no_cart(people, sign_in, query):
    assert sign_in(people[Role.YARD_HAND]).get(f"/workshop/tell/{query}").status_code == 200


def test_holds_passes_limits_and_questions_are_listed_with_what_ends_them(people, sign_in):
    cart = CartFactory()
    HoldFactory(cart=cart, reason="Gearbox noise", keys_words="With the fleet manager", is_tag_hung=False)
    PassFactory(cart=cart, ends_event="when it comes back")
    LimitFactory()
    HoldFactory(reason="Lifted one", lifted_at=timezone.now(), lifted_by=people[Role.FLEET_MANAGER])

    page = text(sign_in(people[Role.FITTER]).get("/workshop/holds/"))

    for words in (
        "Gearbox noise",
        "With the fleet manager",
        "not hung",
        "when it comes back",
        "Cannon isolated and tagged",
    ):
        assert words in page
    assert "Lifted one" not in page
    assert "No reading is in question." in page


@pytest.mark.parametrize("role", list(Role))
def test_an_extinguisher_tells_what_is_due_and_by_which_rule(people, sign_in, role):
    # The factory's extinguisher was made on 1 December 2025; FE-50 (AS 1851-2012 s 10): six and twelve months.
    item = ExtinguisherFactory(serviced={"routine_6_month": date(2026, 5, 20)})

    answer = sign_in(people[role]).get(f"/extinguishers/{item.pk}/")

    coming = [(one.words, one.on) for one in answer.context["coming"]]
    assert coming[:2] == [
        ("six-month service", date(2026, 11, 20)),
        ("twelve-month service", date(2026, 12, 1)),
    ]
    assert answer.context["done"] == [("six-month service", date(2026, 5, 20), "Tag House, R. Iyer")]
    page = text(answer)
    assert "20 Nov 2026" in page
    assert "AS 1851-2012" in page
    assert ("Record a service" in page) == (role in WORKSHOP)


def test_an_extinguisher_on_the_shelf_and_a_used_one_say_so(people, sign_in):
    shelf, used = ExtinguisherFactory(cart=None), ExtinguisherFactory(is_discharged=True)
    client = sign_in(people[Role.FITTER])

    assert "on the shelf" in text(client.get(f"/extinguishers/{shelf.pk}/"))
    assert "Used or out of the green" in text(client.get(f"/extinguishers/{used.pk}/"))
    assert client.get(f"/extinguishers/{uuid.uuid4()}/").status_code == 404


@pytest.mark.parametrize("role", list(Role))
def test_a_tyre_shows_every_depth_and_which_one_counts(people, sign_in, role):
    fitting = TyreFittingFactory(code="2LO")
    read_at = timezone.now()
    for days, depth in ((9, "5.5"), (5, "4.1"), (1, "4.4")):
        TreadReadingFactory(fitting=fitting, depth_mm=Decimal(depth), read_at=read_at - timedelta(days=days))

    answer = sign_in(people[role]).get(f"/tyre-fittings/{fitting.pk}/")

    assert [(one.depth[:3], one.is_least) for one in answer.context["readings"]] == [
        ("4.4", False),
        ("4.1", True),
        ("5.5", False),
    ]
    page = text(answer)
    assert "Change out at" in page
    assert "Legal" in page
    assert ("Take this tyre off" in page) == (role in WORKSHOP)


def test_a_tyre_never_measured_says_so(people, sign_in):
    assert "Never measured in this place." in text(
        sign_in(people[Role.FITTER]).get(f"/tyre-fittings/{TyreFittingFactory().pk}/")
    )
