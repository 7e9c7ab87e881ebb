"""A return that was none, and a cart that has not left the site after all: taken back, with what they had ended."""

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.models.carts import Cart
from hire.actions.gate import bring_back
from hire.actions.links import make_link
from hire.actions.money import make_docket
from hire.actions.not_back import LastDocketMade, NotBack, OutSince, WalkedSince, not_back
from hire.actions.off_hire import OffHireOver, StillOnSite, cancel_off_hire, not_left_site, record_left_site
from hire.actions.site import open_through_link
from hire.models.agreements import Line
from hire.models.operators import OperatorTurn
from inspections.models import SiteWalker
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.factories.fleet import CartFactory
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.inspections import sign
from tests.factories.money import AgreedTermsFactory
from tests.factories.wet import TurnFactory

pytestmark = pytest.mark.django_db

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def out(at):
    """Out for three days, expected back in four; it stands on site."""
    line = LineFactory(
        cart=CartFactory(fleet_number="RG07", tyres=True), starts_at=at - 3 * DAY, ends_at=at + 4 * DAY, out_at=at - 3 * DAY
    )  # fmt: skip
    Cart.objects.filter(pk=line.cart_id).update(
        where_kind="site", where_words="By the dam", keys_words="Under the seat"
    )
    return Line.objects.for_list().get(pk=line.pk)


def back(line, *, by, at, happened_at=None):
    return bring_back(
        line=line, where_words="Wash bay", keys_words="Board", happened_at=happened_at, by=by, at=at
    )


def undo(line, *, by, at, why="The wrong cart was tapped"):
    return not_back(line=line, why=why, by=by, at=at)


def test_the_hire_goes_on_and_the_cart_stands_where_it_stood(out, hand, desk, at):
    line = back(out, by=hand, at=at, happened_at=at - HOUR)
    done = undo(line, by=desk, at=at + HOUR)
    line.refresh_from_db()
    assert (line.back_at, line.back_entered_at, line.is_out, done.anew) == (None, None, True, ())
    cart = Cart.objects.get(pk=line.cart_id)
    assert (cart.where_kind, cart.where_words, cart.keys_words) == ("site", "By the dam", "Under the seat")
    entry = Entry.objects.filter(event="hire.line.not_back").first()
    assert "The wrong cart was tapped" in entry.text
    assert list(faults_in_journal()) == []
    assert back(line, by=hand, at=at + 2 * HOUR).back_at == at + 2 * HOUR


def test_the_true_return_says_anew_what_it_carried(out, hand, desk, at):
    """What was told at a return that was none holds up nobody who brings the cart back."""
    line = bring_back(line=out, where_words="Wash bay", keys_words="Board", water="bore", by=hand, at=at)
    undo(line, by=desk, at=at + HOUR)
    later = at + 2 * HOUR
    bring_back(line=out, where_words="Wash bay", keys_words="Board", water="dam", by=hand, at=later)
    assert [told.source for told in out.water_told.all()] == ["dam", "bore"]


def test_its_operators_and_phones_go_on_as_they_were(out, hand, desk, at):
    now, to_come = (
        TurnFactory(line=out, starts_at=starts, ends_at=ends)
        for starts, ends in ((at - 3 * DAY, at + DAY), (at + DAY, at + 4 * DAY))
    )
    link, _ = make_link(line=out, for_words="Aoife Merrin", by=desk, at=at - DAY)
    walker, _ = open_through_link(link=link, name="Joe Ferro", at=at - DAY)
    had = [turn.period for turn in (now, to_come)]
    line = back(out, by=hand, at=at)
    assert SiteWalker.objects.get(pk=walker.pk).over_at == at
    done = undo(line, by=desk, at=at + HOUR)
    again = list(OperatorTurn.objects.filter(cancelled_at=None).order_by("period"))
    assert [(turn.pk, turn.period) for turn in again] == [(now.pk, had[0]), (to_come.pk, had[1])]
    assert SiteWalker.objects.get(pk=walker.pk).over_at is None
    assert done.anew == ()


def test_an_operator_who_is_elsewhere_by_now_is_named(out, hand, desk, at):
    turn = TurnFactory(line=out, starts_at=at - DAY, ends_at=at + 3 * DAY)
    line = back(out, by=hand, at=at)
    TurnFactory(operator=turn.operator, starts_at=at + HOUR, ends_at=at + DAY)
    [said] = undo(line, by=desk, at=at + HOUR).anew
    assert str(turn.operator) in said
    assert Entry.objects.filter(
        event="hire.line.not_back", text__contains="is with another cart by now"
    ).exists()


def test_of_an_older_return_what_must_be_made_anew_is_said(out, desk, at):
    """Written down before the journal kept what it ended."""
    TurnFactory(line=out, starts_at=at - DAY, ends_at=at)
    Line.objects.filter(pk=out.pk).update(back_at=at)
    [said] = undo(out, by=desk, at=at + HOUR).anew
    assert "Put them with it again" in said
    assert Cart.objects.get(pk=out.cart_id).where_words == out.agreement.place_of_work


@pytest.mark.parametrize("purpose", ["as_returned", "after_wash"])
def test_not_once_it_was_walked(out, hand, desk, at, purpose):
    line = back(out, by=hand, at=at)
    sign(line.cart, purpose, by=hand, at=at + HOUR / 2)
    with pytest.raises(WalkedSince, match="walked RG07"):
        undo(line, by=desk, at=at + HOUR)
    line.refresh_from_db()
    assert line.back_at == at


def test_a_walk_before_the_return_is_no_bar(out, hand, desk, at):
    sign(out.cart, "as_returned", by=hand, at=at - 10 * DAY)
    assert undo(back(out, by=hand, at=at), by=desk, at=at + HOUR)


def test_not_once_it_was_handed_over_again_or_is_promised_in_its_time(out, hand, desk, at):
    line = back(out, by=hand, at=at)
    other = LineFactory(cart=line.cart, starts_at=at + DAY, ends_at=at + 2 * DAY)
    with pytest.raises(OutSince, match=other.agreement.number):
        undo(line, by=desk, at=at + HOUR)
    Line.objects.filter(pk=other.pk).update(handed_over_at=at + HOUR)
    with pytest.raises(OutSince, match="was handed over again since"):
        undo(line, by=desk, at=at + 2 * HOUR)


def test_not_once_it_is_charged_to_its_end(out, hand, desk, at):
    AgreedTermsFactory(line=out, rule="as agreed")
    line = back(out, by=hand, at=at)
    docket = make_docket(line=line, by=desk, at=at + HOUR)
    assert docket.is_last
    with pytest.raises(LastDocketMade, match=docket.number):
        undo(line, by=desk, at=at + 2 * HOUR)


def test_an_interim_docket_is_no_bar(out, hand, desk, at):
    AgreedTermsFactory(line=out, rule="as agreed")
    make_docket(line=out, through=(at - 2 * DAY).date(), by=desk, at=at - HOUR)
    assert undo(back(out, by=hand, at=at), by=desk, at=at + HOUR)


@pytest.mark.parametrize("role", sorted(set(Role) - DESK))
def test_only_the_desk_takes_it_back(out, hand, people, at, role):
    line = back(out, by=hand, at=at)
    with pytest.raises(NotAllowed):
        undo(line, by=people[role], at=at + HOUR)


def test_nothing_to_take_back(out, desk, at):
    with pytest.raises(NotBack):
        undo(out, by=desk, at=at)


def test_the_page_asks_why(client, out, hand, desk, at):
    line = back(out, by=hand, at=at)
    client.force_login(desk)
    address = reverse("hire:not_back", args=[line.pk])
    assert address in client.get(reverse("hire:line_detail", args=[line.pk])).content.decode()
    assert client.post(address, {"why": ""}).status_code == 422
    done = client.post(address, {"why": "Wrong cart"}, follow=True).content.decode()
    assert "RG07 is out on" in done
    assert client.post(address, {"why": "Again"}).status_code == 422


def test_it_has_not_left_the_site_after_all(out, hand, desk, at, client):
    call = OffHireFactory(line=out, called_at=at - DAY)
    with pytest.raises(StillOnSite):
        not_left_site(off_hire=call, why="Mistyped", by=desk, at=at)
    call = record_left_site(off_hire=call, left_site_at=at - HOUR, by=hand, at=at)
    with pytest.raises(NotAllowed):
        not_left_site(off_hire=call, why="Mistyped", by=hand, at=at)
    client.force_login(desk)
    address = reverse("hire:off_hire_not_left", args=[call.pk])
    assert address in client.get(reverse("hire:line_detail", args=[out.pk])).content.decode()
    assert client.post(address, {"why": ""}).status_code == 422
    assert "waits for its pick-up" in client.post(address, {"why": "Mistyped"}, follow=True).content.decode()
    call.refresh_from_db()
    assert call.left_site_at is None
    assert '"why":"Mistyped"' in Entry.objects.filter(event="hire.off_hire.not_left_site").first().text
    assert cancel_off_hire(off_hire=call, why="By mistake", by=desk, at=at)


def test_once_it_is_back_it_did_leave_the_site(out, hand, desk, at):
    call = OffHireFactory(line=out, called_at=at - DAY)
    record_left_site(off_hire=call, left_site_at=at - HOUR, by=hand, at=at)
    back(out, by=hand, at=at)
    with pytest.raises(OffHireOver, match="is back in the yard"):
        not_left_site(off_hire=call, why="Mistyped", by=desk, at=at)
