"""A service that falls due on hire is offered on site: agreed for a time, or refused by name, and both are told where it counts."""

from datetime import datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.readiness import Window, readiness
from hire.actions.service_offers import (
    Answered,
    NoSuchService,
    NotOutThere,
    NotThatTime,
    Offered,
    OfferedAlready,
    OfferSettled,
    WordsWanted,
    answer_by_link,
    answer_offer,
    offer_service,
    strike_offer,
)
from hire.dispute_pack import pack_files
from hire.models.service_offers import OfferAnswer, ServiceOffer
from hire.service_offers import offer_words, offered
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import DESK, WORKSHOP, Role
from people.yard import yard_policy
from servicing.coming import coming
from servicing.service_book import reckon_services
from tests.factories.hire import CustomerLinkFactory, LineFactory
from tests.factories.offers import OfferAnswerFactory, ServiceOfferFactory
from tests.factories.services import ServiceDoneFactory, ServicePlanFactory
from tests.pages import text_of, typed_moment
from tests.worked import tables

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NO = Answered(is_agreed=False, by_words="Kit Olsen", words="No time before Friday.")
YES = Answered(is_agreed=True, by_words="Kit Olsen")


def due_line(at, *, number="RG07", name="500-hour service"):
    """Out for three days, with a service that is past its months."""
    line = LineFactory(
        cart__fleet_number=number, starts_at=at - 3 * DAY, ends_at=at + 9 * DAY, out_at=at - 3 * DAY
    )
    plan = ServicePlanFactory(cart=line.cart, name=name, engine_hours=None, months=3, stops=False)
    ServiceDoneFactory(cart=line.cart, plan=plan, done_at=at - 100 * DAY, recorded_at=at - 100 * DAY)
    reckon_services(carts=[line.cart], at=at)
    return line, plan


def said(at, **changed):
    usual = {
        "offered_to": "Kit Olsen",
        "offered_at": at,
        "starts_at": at + 2 * DAY,
        "ends_at": at + 2 * DAY + 4 * HOUR,
    }
    return Offered(**usual | changed)


@pytest.fixture
def hire(at):
    return due_line(at)


@pytest.fixture
def offer(hire, desk, at):
    line, plan = hire
    return offer_service(line=line, plan=plan, said=said(at - HOUR), by=desk, at=at)


def cautions(line, at):
    window = Window(at, at + 9 * DAY, asks_gate=False, line_id=line.pk)
    return [
        one.sentence
        for one in readiness(line.cart, window=window, at=at).cautions
        if one.code == "service.due"
    ]


def test_offered_refused_by_name_and_told_where_it_counts(hire, offer, desk, at):
    line, _ = hire
    assert any("to Kit Olsen, not answered." in words for words in cautions(line, at))
    answer_offer(offer=offer, said=NO, told_at=at, by=desk, at=at + HOUR)
    [words] = cautions(line, at + HOUR)
    assert words.endswith("refused by Kit Olsen: No time before Friday.")
    assert "is due now" in words
    [item] = [
        one
        for one in coming([line.cart], until=(at + 9 * DAY).date(), at=at)[line.cart_id]
        if one.kind == "service"
    ]
    assert "refused by Kit Olsen: No time before Friday." in item.why
    assert [one.event for one in Entry.objects.filter(event__startswith="hire.service.", chain="yard").order_by("at")] == [
        "hire.service.offered", "hire.service.refused",
    ]  # fmt: skip
    assert not list(faults_in_journal())


def test_agreed_is_told_with_its_time_and_may_be_offered_anew(hire, offer, desk, at):
    line, plan = hire
    answer_offer(offer=offer, said=YES, told_at=at, by=desk, at=at)
    assert "agreed by Kit Olsen for " in offer_words(ServiceOffer.objects.get(), at=at)
    again = offer_service(line=line, plan=plan, said=said(at + HOUR), by=desk, at=at + HOUR)
    assert again.nth == 2
    assert "not answered" in offered([line.cart_id], at=at + HOUR)[line.cart_id, plan.pk]


def test_struck_out_it_is_told_no_more(hire, offer, desk, at):
    line, _ = hire
    strike_offer(offer=offer, why="Another cart", by=desk, at=at)
    assert offered([line.cart_id], at=at) == {}
    for act in (
        lambda: strike_offer(offer=offer, why="Again", by=desk, at=at),
        lambda: answer_offer(offer=offer, said=NO, told_at=at, by=desk, at=at),
    ):
        with pytest.raises(OfferSettled, match="struck out"):
            act()


def test_back_in_the_yard_nothing_of_it_is_told(hire, offer, at):
    line, _ = hire
    line.back_at = line.back_entered_at = at
    line.save()
    assert offered([line.cart_id], at=at) == {}


@pytest.mark.parametrize("role", sorted(set(Role) - DESK - WORKSHOP))
def test_only_the_desk_and_the_workshop_offer(hire, offer, people, at, role):
    line, plan = hire
    by = people[role]
    for act in (
        lambda: offer_service(line=line, plan=plan, said=said(at), by=by, at=at),
        lambda: answer_offer(offer=offer, said=NO, told_at=at, by=by, at=at),
        lambda: strike_offer(offer=offer, why="No", by=by, at=at),
    ):
        with pytest.raises(NotAllowed):
            act()


def test_a_fitter_may(hire, people, at):
    line, plan = hire
    assert offer_service(line=line, plan=plan, said=said(at), by=people[Role.FITTER], at=at).is_open


def test_what_cannot_be_offered(hire, offer, desk, at):
    line, plan = hire
    for refusal, changed in (
        (OfferedAlready, {}),
        (NoSuchService, {"plan": ServicePlanFactory(cart=LineFactory().cart)}),
        (NotThatTime, {"said": said(at + HOUR)}),
        (NotThatTime, {"said": said(at, ends_at=at + 2 * DAY)}),
        (NotThatTime, {"said": said(at, starts_at=at - DAY)}),
        (NotOutThere, {"line": LineFactory(starts_at=at + DAY)}),
    ):
        with pytest.raises(refusal):
            offer_service(**{"line": line, "plan": plan, "said": said(at), "by": desk, "at": at} | changed)
    for refusal, answer, told in (
        (WordsWanted, Answered(is_agreed=False, by_words="Kit", words=" "), at),
        (WordsWanted, Answered(is_agreed=True, by_words=" "), at),
        (NotThatTime, NO, at + HOUR),
        (NotThatTime, NO, at - 2 * HOUR),
    ):
        with pytest.raises(refusal):
            answer_offer(offer=offer, said=answer, told_at=told, by=desk, at=at)
    answer_offer(offer=offer, said=NO, told_at=at, by=desk, at=at)
    with pytest.raises(OfferSettled, match="refused by Kit Olsen already"):
        answer_offer(offer=offer, said=YES, told_at=at, by=desk, at=at)


def test_the_database_refuses_by_itself(at):
    first = ServiceOfferFactory()
    for name, make in (
        ("hire_offeranswer_refused_by_name", lambda: OfferAnswerFactory(offer=first, words="")),
        ("hire_offeranswer_told_or_by_link", lambda: OfferAnswerFactory(offer=first, made_by=None)),
        ("hire_serviceoffer_in_turn", lambda: ServiceOfferFactory(line=first.line, plan=first.plan)),
        ("hire_serviceoffer_times_in_order", lambda: ServiceOfferFactory(ends_at=first.starts_at)),
        ("hire_serviceoffer_to_somebody", lambda: ServiceOfferFactory(offered_to="")),
    ):
        with pytest.raises(IntegrityError, match=name), transaction.atomic():
            make()


def test_many_carts_cost_one_query(desk, at):
    for number in range(3):
        line, plan = due_line(at, number=f"RG{number:02d}", name=f"Service of {number}")
        offer_service(line=line, plan=plan, said=said(at), by=desk, at=at)
    carts = list(ServiceOffer.objects.values_list("line__cart", flat=True))
    with CaptureQueriesContext(connection) as queries:
        assert len(offered(carts, at=at)) == 3
    assert len(queries) == 1


class TestPages:
    def test_offered_answered_and_struck_out_on_the_hires_page(self, client, desk):
        now = timezone.now()
        line, plan = due_line(now)
        client.force_login(desk)
        page = reverse("hire:line_detail", args=[line.pk])
        assert "Offer a service" in text_of(client.get(page))
        typed = {
            "plan": plan.pk, "offered_to": "Kit Olsen", "offered_at": typed_moment(now - HOUR),
            "starts_at": typed_moment(now + 2 * DAY), "ends_at": typed_moment(now + 2 * DAY + 4 * HOUR),
            "access_words": "Escort from the gate",
        }  # fmt: skip
        done = text_of(client.post(reverse("hire:service_offer", args=[line.pk]), typed, follow=True))
        assert "500-hour service is offered to Kit Olsen." in done
        assert "Escort from the gate" in done
        offer = ServiceOffer.objects.get()
        address = reverse("hire:service_answer", args=[offer.pk])
        refused = {"answer": "refused", "by_words": "Kit Olsen", "words": "", "told_at": typed_moment(now)}
        assert client.post(address, refused).status_code == 422
        done = text_of(client.post(address, refused | {"words": "Not this week"}, follow=True))
        assert "500-hour service is refused by Kit Olsen." in done
        assert "refused by Kit Olsen: Not this week." in done
        done = client.post(
            reverse("hire:service_strike", args=[offer.pk]), {"why": "Wrong cart"}, follow=True
        )
        assert "Wrong cart" in text_of(done)

    def test_the_supervisor_answers_through_the_link(self, client, desk):
        now = timezone.now()
        line, plan = due_line(now)
        offer = offer_service(line=line, plan=plan, said=said(now), by=desk, at=now)
        token = "token-of-the-service-offer-000001"
        CustomerLinkFactory(line=line, token=token, for_words="Kit Olsen", made_at=now - DAY)
        page = reverse("hire:customer_page", args=[token])
        address = reverse("hire:link_service", args=[token, offer.pk])
        assert address in text_of(client.get(page))
        assert "done on site" not in text_of(client.get(address))
        assert client.post(address, {"answer": "refused", "by_words": "Kit Olsen"}).status_code == 422
        done = client.post(
            address, {"answer": "agreed", "by_words": "Kit Olsen", "words": "Ring first"}, follow=True
        )
        assert "Agreed by Kit Olsen" in text_of(done)
        assert OfferAnswer.objects.get().link is not None
        with pytest.raises(OfferSettled):
            answer_by_link(offer=offer, link=OfferAnswer.objects.get().link, said=NO, at=timezone.now())
        client.force_login(desk)
        assert "by the customer’s link" in text_of(client.get(reverse("hire:line_detail", args=[line.pk])))

    def test_it_is_in_the_dispute_pack(self, hire, offer, desk, at):
        line, _ = hire
        answer_offer(offer=offer, said=NO, told_at=at, by=desk, at=at)
        files = {one.path: one for one in pack_files(line, at=at)}
        assert b"refused," in files["service-offers.csv"].read()
        assert "refused by Kit Olsen: No time before Friday." in files["hire.html"].read().decode()


@pytest.mark.parametrize("row", tables("services.md", "Offered on site")[0], ids=lambda row: row[1])
def test_the_table_of_the_page_is_true(row):
    _, how, words = row
    adelaide = yard_policy().zone
    offered_at = datetime(2026, 11, 24, 9, tzinfo=adelaide)
    starts = datetime(2026, 11, 26, 6, tzinfo=adelaide)
    offer = ServiceOfferFactory(
        offered_at=offered_at, made_at=offered_at, starts_at=starts, ends_at=starts + 4 * HOUR
    )
    if how != "nobody":
        OfferAnswerFactory(offer=offer, is_agreed=how.startswith("agreed"))
    assert offer_words(ServiceOffer.objects.get(), at=offered_at) == words
