"""One more cart on an agreement: wet where the first is, and with an operator chosen at once."""

from datetime import timedelta

import pytest
from django.urls import reverse

from hire.actions.agreements import CustomerStopped, add_line
from hire.actions.wet import NotWet, OperatorTaken
from hire.models.agreements import Line
from hire.models.operators import WetHire
from hire.wet_reading import usual_wants
from people.journal.models import Entry
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, LineFactory
from tests.factories.wet import OperatorFactory, TurnFactory, WetHireFactory
from tests.pages import text_of, typed_moment

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


def add(line, desk, at, **said):
    span = {"starts_at": line.promised.lower, "ends_at": line.promised.upper}
    return add_line(agreement=line.agreement, **span | {"cart": CartFactory(), "by": desk, "at": at} | said)


def test_it_goes_wet_with_its_operator_and_the_journal_says_both(desk, at):
    operator = OperatorFactory()
    line = add(LineFactory(agreement__is_night=True), desk, at, wants=("medical",), operator=operator)
    turn = line.turns.get()
    assert (line.wet.wants, turn.operator, turn.shift, turn.period) == (
        ["medical"],
        operator,
        2,
        line.promised,
    )
    entry = Entry.objects.filter(subject_id=line.pk, chain="yard").get()
    assert entry.event == "hire.line.added"
    assert str(operator) in entry.text and "medical" in entry.text


def test_it_goes_dry_where_nobody_says_wet(desk, at):
    line = add(WetHireFactory().line, desk, at)
    assert not WetHire.objects.filter(line=line).exists()


def test_an_operator_on_a_dry_cart_or_one_taken_puts_no_cart_on_it(desk, at):
    turn = TurnFactory()
    with pytest.raises(NotWet, match="Make it wet"):
        add(turn.line, desk, at, operator=OperatorFactory())
    with pytest.raises(OperatorTaken, match=turn.line.agreement.number):
        add(turn.line, desk, at, wants=(), operator=turn.operator)
    assert list(Line.objects.all()) == [turn.line]


def test_a_stopped_customer_has_no_more_carts_either(desk, at):
    line = LineFactory(agreement__customer__is_stopped=True)
    with pytest.raises(CustomerStopped, match="no new hires"):
        add(line, desk, at)


def test_what_is_usual_is_what_the_first_cart_asks(at):
    first = WetHireFactory(wants=["medical"]).line
    later = LineFactory(agreement=first.agreement, starts_at=first.promised.lower + DAY)
    assert usual_wants(first.agreement) == ("medical",)
    Line.objects.filter(pk=first.pk).update(cancelled_at=at, cancelled_why="Rain")
    assert usual_wants(first.agreement) is None
    WetHireFactory(line=later, wants=[])
    assert usual_wants(first.agreement) == ()


# The page.


@pytest.fixture
def post(client, desk):
    client.force_login(desk)

    def inner(line, **typed):
        span = {"starts_at": typed_moment(line.promised.lower), "ends_at": typed_moment(line.promised.upper)}
        return client.post(
            reverse("hire:line_one_more", args=[line.pk]), span | {"cart": CartFactory().pk} | typed
        )

    return inner


@pytest.mark.parametrize("goes", ["wet", "dry"])
def test_the_page_begins_as_the_first_cart_goes(client, desk, goes):
    line = WetHireFactory().line if goes == "wet" else LineFactory()
    client.force_login(desk)
    page = client.get(reverse("hire:line_detail", args=[line.pk]))
    assert reverse("hire:line_one_more", args=[line.pk]) in page.content.decode()
    form = client.get(reverse("hire:line_one_more", args=[line.pk])).context["form"]
    assert form["goes"].value() == goes
    assert f"{form['starts_at'].value():%Y-%m-%dT%H:%M}" == typed_moment(line.promised.lower)


def test_a_wet_one_asks_what_the_first_one_asks(post):
    line = WetHireFactory(wants=["machine"]).line
    # Asked at the same place since, of another hire.
    WetHireFactory(wants=["medical"], line__agreement__customer=line.agreement.customer, set_at=AT)
    operator = OperatorFactory()
    assert post(line, goes="wet", operator=operator.pk).status_code == 302
    more = line.agreement.lines.exclude(pk=line.pk).get()
    assert (more.wet.wants, more.turns.get().operator) == (["machine"], operator)
    assert post(line, goes="dry").status_code == 302
    assert WetHire.objects.filter(line__agreement=line.agreement).count() == 2


def test_wet_beside_a_dry_one_asks_what_the_place_asks(post):
    line = LineFactory()
    assert post(line, goes="wet").status_code == 302
    assert WetHire.objects.get().wants == ["induction"]


def test_a_refusal_comes_back_with_what_was_typed(post):
    line = LineFactory()
    refused = post(line, goes="dry", operator=OperatorFactory().pk)
    assert refused.status_code == 422
    assert "Make it wet" in str(refused.context["form"].errors["operator"])
    taken = post(line, cart=line.cart_id)
    assert taken.status_code == 422
    assert line.agreement.number in str(taken.context["form"].errors["cart"])
    assert "Promise it" in text_of(taken)
    assert Line.objects.count() == 1
