"""A cart kept for a caller: nobody else gets it until it lapses, is let go or becomes a hire."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions.agreements import make_agreement, move_line
from hire.actions.clashes import AlreadyPencilled, CartPromised, EndsBeforeItStarts, PencilOver
from hire.actions.pencils import LapsesTooLate, let_go, pencil_cart
from hire.models.agreements import Line
from hire.models.pencils import Pencil
from people.journal.models import Entry
from people.refusals import NotAllowed
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, CustomerFactory, LineFactory, PencilFactory
from tests.factories.people import StaffFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
START = AT + 3 * DAY


def pencilled(desk, **changed):
    facts = {
        "cart": None,
        "starts_at": START,
        "ends_at": START + 7 * DAY,
        "expires_at": AT + DAY,
        "at": AT,
    } | changed
    facts["cart"] = facts["cart"] or CartFactory()
    return pencil_cart(**{"caller_words": "Ada Kell", "phone": "08 5550 0171", "by": desk} | facts)


def promised(desk, cart, **changed):
    facts = {
        "customer": CustomerFactory(), "place_of_work": "Pit 4", "leaves_by": "road", "works_on": "site",
        "pre_start_book": "ours", "order_number": "", "cart": cart, "starts_at": START, "ends_at": START + 7 * DAY, "by": desk,
        "at": AT,
    }  # fmt: skip
    return make_agreement(**facts | changed)


def test_it_is_kept_and_journalled(desk):
    pencil = pencilled(desk)
    assert list(Pencil.objects.standing(at=AT)) == [pencil]
    assert Entry.objects.get(event="hire.pencil.made").by == desk


def test_nobody_else_pencils_or_promises_it_and_the_sentence_says_who_has_it(desk):
    pencil = pencilled(desk)
    with pytest.raises(AlreadyPencilled) as refused:
        pencilled(desk, cart=pencil.cart, starts_at=START + DAY)
    assert f"{pencil.cart.fleet_number} is pencilled for Ada Kell until" in refused.value.sentence
    with pytest.raises(AlreadyPencilled, match="pencilled for Ada Kell"):
        promised(desk, pencil.cart)
    assert not Line.objects.exists()


def test_the_period_before_and_after_is_free(desk):
    pencil = pencilled(desk)
    pencilled(desk, cart=pencil.cart, starts_at=START + 7 * DAY, ends_at=START + 8 * DAY)
    promised(desk, pencil.cart, starts_at=START - DAY, ends_at=START)


def test_it_becomes_the_callers_hire(desk):
    pencil = pencilled(desk)
    line = promised(desk, pencil.cart, pencil=pencil)
    pencil.refresh_from_db()
    assert (line.cart, pencil.ended_how, pencil.ended_at) == (pencil.cart, "promised", AT)
    with pytest.raises(PencilOver, match="became a hire"):
        promised(desk, CartFactory(), pencil=pencil)


def test_lapsed_it_is_in_nobodys_way(desk):
    pencil = pencilled(desk)
    promised(desk, pencil.cart, at=AT + DAY)
    pencil.refresh_from_db()
    assert pencil.ended_how == "lapsed"


def test_let_go_it_is_free_and_once_only(desk):
    pencil = pencilled(desk)
    let_go(pencil=pencil, by=desk, at=AT)
    pencilled(desk, cart=pencil.cart)
    with pytest.raises(PencilOver, match="it was let go"):
        let_go(pencil=pencil, by=desk, at=AT)


def test_an_extension_does_not_run_into_it(desk):
    line = LineFactory(starts_at=AT, ends_at=START)
    pencilled(desk, cart=line.cart)
    with pytest.raises(AlreadyPencilled) as refused:
        move_line(line=line, starts_at=AT, ends_at=START + HOUR, by=desk, at=AT)
    assert refused.value.field == "ends_at"


def test_a_promised_cart_is_not_pencilled(desk):
    line = LineFactory(starts_at=START)
    with pytest.raises(CartPromised, match=line.agreement.number):
        pencilled(desk, cart=line.cart)


@pytest.mark.parametrize(
    ("changed", "refusal"),
    [
        ({"ends_at": START}, EndsBeforeItStarts),
        ({"expires_at": AT}, LapsesTooLate),
        ({"expires_at": START + HOUR}, LapsesTooLate),
    ],
)
def test_times_that_make_no_sense_are_refused(desk, changed, refusal):
    with pytest.raises(refusal):
        pencilled(desk, **changed)


def test_only_the_desk_pencils(desk):
    with pytest.raises(NotAllowed):
        pencilled(StaffFactory(role="yard_hand"))
    with pytest.raises(NotAllowed):
        let_go(pencil=pencilled(desk), by=StaffFactory(role="fitter"), at=AT)


def test_the_database_keeps_one_caller_a_cart():
    first = PencilFactory()
    with pytest.raises(IntegrityError, match="hire_pencil_one_a_cart"), transaction.atomic():
        PencilFactory(cart=first.cart, period=first.period)
    PencilFactory(cart=first.cart, period=first.period, ended_at=AT, ended_how="let_go")


@pytest.mark.parametrize(
    ("values", "constraint"),
    [
        ({"expires_at": AT, "made_at": AT}, "hire_pencil_lapses_later"),
        ({"ended_at": AT}, "hire_pencil_ended_somehow"),
        ({"ended_how": "lapsed"}, "hire_pencil_ended_somehow"),
    ],
)
def test_the_database_keeps_a_pencil_whole(values, constraint):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        PencilFactory(**values)


def test_the_desk_pencils_lets_go_and_promises_by_hand(client, desk):
    client.force_login(desk)
    cart, now = CartFactory(fleet_number="WC-80"), timezone.now()
    typed = {
        "caller_words": "Ada Kell", "phone": "08 5550 0171", "words": "Dust at the quarry",
        "starts_at": f"{now + 3 * DAY:%Y-%m-%dT06:00}", "ends_at": f"{now + 9 * DAY:%Y-%m-%dT16:00}",
        "expires_at": f"{now + DAY + DAY / 2:%Y-%m-%dT%H:%M}",
    }  # fmt: skip
    wrong = client.post(reverse("hire:pencil_add", args=[cart.pk]), typed | {"ends_at": typed["starts_at"]})
    assert wrong.status_code == 422
    assert 'value="Ada Kell"' in wrong.content.decode()
    sheet = text_of(client.post(reverse("hire:pencil_add", args=[cart.pk]), typed, follow=True))
    assert "WC-80 is pencilled for Ada Kell." in sheet
    assert "Dust at the quarry" in sheet
    pencil = Pencil.objects.get()
    page = client.get(
        reverse("hire:line_add"), {"pencil": pencil.pk, "cart": cart.pk, "starts_at": typed["starts_at"]}
    )
    assert f'value="{typed["starts_at"]}"' in page.content.decode()
    agreed = {
        "customer": CustomerFactory().pk, "cart": cart.pk, "place_of_work": "Quarry", "order_number": "", "leaves_by": "road",
        "works_on": "site", "pre_start_book": "ours", "shift": "day", "water": "any", "starts_at": typed["starts_at"],
        "ends_at": typed["ends_at"],
    }  # fmt: skip
    assert client.post(f"{reverse('hire:line_add')}?pencil={pencil.pk}", agreed).status_code == 302
    pencil.refresh_from_db()
    assert pencil.ended_how == "promised"


def test_the_button_lets_it_go(client, desk):
    client.force_login(desk)
    pencil = PencilFactory()
    page = text_of(client.post(reverse("hire:pencil_let_go", args=[pencil.pk]), follow=True))
    assert "is no longer kept for Ada Kell." in page
    page = text_of(client.post(reverse("hire:pencil_let_go", args=[pencil.pk]), follow=True))
    assert "is no longer pencilled for Ada Kell: it was let go." in page
