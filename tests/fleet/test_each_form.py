"""Each plain form of the fleet: asked for, done and told, and back with everything typed when it cannot be."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.contrib.messages import get_messages
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from fleet.forms import YardMoment
from fleet.models.carts import Cart, ReadingQuestion
from fleet.models.photos import Photo
from fleet.models.standing import Hold
from tests.factories.fleet import CartFactory, ExtinguisherFactory, HoldFactory, TyreFittingFactory
from tests.pages import text_of, today, typed_moment
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def make_fitment():
    return CartFactory().fitments.first()


def make_fitting():
    return TyreFittingFactory(fitted_at=timezone.now() - 30 * DAY)


def make_question():
    cart = CartFactory()
    return ReadingQuestion.objects.create(
        cart=cart, subject="meter km", value=Decimal(5), read_at=timezone.now(), question="Lower?",
        source_kind="walk_round", source_id=cart.pk,
    )  # fmt: skip


# What makes the thing the address names, what is posted, and one value that cannot be.
FORMS = {
    "cart_move": (CartFactory, lambda: {"where_kind": "site", "where_words": "Pit 4", "keys_words": "Wes"}, {"where_kind": "moon"}),
    "gear_list": (lambda: CartFactory(gear=()), lambda: {"kind": "cannon", "count": "1", "fitted_on": today()}, {"count": "0"}),
    "gear_remove": (make_fitment, lambda: {"removed_on": today()}, {"removed_on": today() + 9 * DAY}),
    "tyre_fit": (
        CartFactory,
        lambda: {"position_code": "2LO", "serial": "RW 7", "make": "Wallaroo", "size": "11R22.5", "new_depth_mm": "16",
                 "is_fresh": "yes",                 "fitted_at": typed_moment(timezone.now()), "depth_mm": "15.5"},
        {"depth_mm": "30"},
    ),
    "tyre_take_off": (make_fitting, lambda: {"taken_off_at": typed_moment(timezone.now()), "words": "Cut"},
                      {"taken_off_at": "2020-01-01T07:00"}),
    "meter_change": (
        CartFactory,
        lambda: {"kind": "km", "changed_at": typed_moment(timezone.now() - DAY), "last_value": "90", "first_value": "3",
                 "words": "Dead"},
        {"first_value": "-3"},
    ),
    "question_settle": (make_question, lambda: {"is_right": "no", "words": "Misread"}, {"words": " "}),
    "extinguisher_place": (
        CartFactory,
        lambda: {"serial": "EX 7", "agent": "dry_chemical", "size_kg": "9", "made_on": "2025-03-01", "bracket": "Cab"},
        {"made_on": (today() + 9 * DAY).isoformat()},
    ),
    "extinguisher_service": (
        lambda: ExtinguisherFactory(made_on=today() - 90 * DAY),
        lambda: {"kind": "routine_6_month", "on": today(), "by_words": "Tag House"},
        {"on": (today() + DAY).isoformat()},
    ),
    "extinguisher_used": (ExtinguisherFactory, lambda: {"words": "Pin gone"}, {"words": ""}),
    "document_add": (CartFactory, lambda: {"kind": "registration", "number": "S4", "expires_on": today() + 99 * DAY},
                     {"issued_on": (today() + 999 * DAY).isoformat()}),
    "hold_place": (CartFactory, lambda: {"kind": "manual", "reason": "Gearbox noise", "is_tag_hung": "on", "tag_number": "114",
                                         "keys_words": "Board"}, {"tag_number": ""}),
    "hold_lift": (HoldFactory, lambda: {"words": "Looked at by the maker", "is_tag_off": "on"}, {"words": ""}),
}  # fmt: skip


@pytest.mark.parametrize("name", FORMS)
def test_each_form_is_asked_done_and_told(browser, name):
    make, posted, _ = FORMS[name]
    thing = make()
    url = reverse(f"fleet:{name}", args=[thing.pk])
    asked = browser.get(url)
    assert asked.status_code == 200
    assert "button-working" in text_of(asked)
    done = browser.post(url, posted())
    assert done.status_code == 302, done.context["form"].errors
    assert len(list(get_messages(done.wsgi_request))) == 1
    assert browser.get(done.url).status_code == 200


@pytest.mark.parametrize("name", FORMS)
def test_each_form_comes_back_with_what_was_typed(browser, name):
    make, posted, wrong = FORMS[name]
    thing, typed = make(), posted() | wrong
    before = {model: model.objects.count() for model in (Cart, Hold, ReadingQuestion)}
    answer = browser.post(reverse(f"fleet:{name}", args=[thing.pk]), typed)
    body = text_of(answer)
    assert answer.status_code == 422
    assert "Not saved yet" in body
    assert "<title>Not saved:" in body
    assert answer.context["form"].errors
    kept = {field: answer.context["form"][field].value() for field in typed}
    ticks = {field for field in typed if typed[field] == "on"}
    assert all(kept[field] is True for field in ticks)
    assert {field: str(kept[field]) for field in typed.keys() - ticks} == {
        field: str(value) for field, value in typed.items() if field not in ticks
    }
    assert before == {model: model.objects.count() for model in before}


@pytest.mark.parametrize("name", FORMS)
def test_a_post_with_nothing_in_it_brings_the_form_back(browser, name):
    thing = FORMS[name][0]()
    assert browser.post(reverse(f"fleet:{name}", args=[thing.pk])).status_code == 422


def test_a_photo_is_kept_while_the_rest_of_a_hold_is_put_right(browser):
    url, raw = reverse("fleet:hold_place", args=[CartFactory().pk]), camera_jpeg()
    typed = FORMS["hold_place"][1]()
    first = browser.post(url, typed | {"reason": "", "photo": SimpleUploadedFile("tag.jpg", raw)})
    photo = Photo.objects.get()
    assert first.status_code == 422
    assert f'value="{photo.pk}"' in text_of(first)
    assert "The photo you sent is kept" in text_of(first)
    assert browser.post(url, typed | {"kept_photo": str(photo.pk)}).status_code == 302
    assert Hold.objects.get().photo == photo


def test_a_photo_that_is_none_comes_back_with_a_sentence(browser):
    url = reverse("fleet:hold_place", args=[CartFactory().pk])
    answer = browser.post(
        url, FORMS["hold_place"][1]() | {"photo": SimpleUploadedFile("tag.jpg", b"%PDF-1.7 no")}
    )
    assert answer.status_code == 422
    assert "Send a JPEG, PNG or WebP picture." in text_of(answer)
    assert not Hold.objects.exists()


@pytest.mark.parametrize(
    ("typed", "instant"),
    [
        ("2026-12-01T07:30", "2026-11-30T21:00:00+00:00"),
        ("2026-07-01T07:30", "2026-06-30T22:00:00+00:00"),
    ],
)
def test_a_time_is_read_by_the_yards_clock_and_shown_by_it(typed, instant):
    field = YardMoment()
    assert field.clean(typed) == datetime.fromisoformat(instant)
    assert field.widget.format_value(field.prepare_value(field.clean(typed))) == typed


@pytest.mark.parametrize("typed", ["2026-10-04T02:30", "2026-04-05T02:30"], ids=["skipped", "there twice"])
def test_a_time_the_clock_skips_or_has_twice_is_asked_about_again(typed):
    with pytest.raises(ValidationError):
        YardMoment().clean(typed)
