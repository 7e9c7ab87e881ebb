"""What a site asks, issue by issue: shown to a caller's cart, on the hire and at the gate, where a must stops it."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.models.standing import Limit
from fleet.readiness import readiness_each
from hire.actions import gate, sites
from hire.models.sites import SiteSet, TurnedAway
from hire.promises import window_of
from hire.site_facts import set_of
from hire.site_rules import Asked, PaperAsked
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import DESK, Role
from people.yard import yard_day
from tests.factories import inspections as walk
from tests.factories.fleet import (
    CartFactory,
    DocumentFactory,
    LimitFactory,
)
from tests.factories.hire import CustomerFactory, LineFactory, given
from tests.factories.sites import SiteSetFactory, TurnedAwayFactory
from tests.pages import saved, text_of, typed_moment

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def write(customer, desk, at, **changed):
    return sites.write_site_set(
        **{
            "customer": customer,
            "site": "Callabar pit",
            "asked": Asked(gear={"flag": "must"}),
            "why": "Their standard",
            "by": desk,
            "at": at,
        }
        | changed
    )


def asks(line, **asked):
    return SiteSetFactory(
        customer=line.agreement.customer, site=line.agreement.place_of_work, asked=Asked(**asked)
    )


def codes(findings):
    return [one.code for one in findings if one.code.startswith("site.")]


def test_a_change_is_a_new_issue_and_the_earlier_text_stands(desk, at):
    customer = CustomerFactory()
    first = write(customer, desk, at)
    second = write(customer, desk, at + DAY, site=" callabar  PIT", asked=Asked(notes="Channel 14"), issue=1)
    assert (first.issue, second.issue, second.site) == (1, 2, "Callabar pit")
    assert list(customer.site_sets.in_force()) == [second]
    assert SiteSet.objects.get(pk=first.pk).asked().gear == {"flag": "must"}
    assert Entry.objects.filter(event="hire.site_set.written").count() == 2
    with pytest.raises(DatabaseError), transaction.atomic():
        SiteSet.objects.filter(pk=first.pk).update(why="x")


def test_what_is_refused_of_a_set(people, desk, at):
    customer = CustomerFactory(name="Merrin Civil")
    write(customer, desk, at)
    with pytest.raises(sites.SiteHasSet, match="Callabar pit of Merrin Civil already"):
        write(customer, desk, at, asked=Asked())
    with pytest.raises(sites.SameAsBefore):
        write(customer, desk, at, issue=1)
    write(customer, desk, at, issue=1, asked=Asked())
    with pytest.raises(sites.SiteSetMoved, match="issue 2"):
        write(customer, desk, at, issue=1, asked=Asked(notes="x"))
    for role in set(Role) - DESK:
        with pytest.raises(NotAllowed):
            write(customer, people[role], at, site="Elsewhere")


def test_the_database_refuses_an_issue_twice():
    one = SiteSetFactory()
    with pytest.raises(IntegrityError, match="hire_siteset_issue_once"), transaction.atomic():
        SiteSetFactory(customer=one.customer)


def test_a_site_without_a_set_of_its_own_has_its_customers():
    line = LineFactory()
    everywhere = SiteSetFactory(customer=line.agreement.customer, site="")
    assert set_of(line) == everywhere
    own = SiteSetFactory(customer=line.agreement.customer, site="SALTBUSH road  widening")
    assert set_of(line) == own
    assert set_of(LineFactory()) is None


def test_a_must_stops_the_gate_and_what_is_asked_for_warns(line, hand, at):
    asks(line, gear={"flag": "must", "spill_kit": "asked"})
    answer = gate.gate_readiness(line, at=at)
    assert codes(answer.blockers) == ["site.gear"]
    assert codes(answer.cautions) == ["site.gear"]
    assert "For Saltbush Road widening no flag and call sign is fitted; the site must have it." in [
        one.sentence for one in answer.blockers
    ]
    with pytest.raises(gate.StoppedAtGate, match="no flag and call sign is fitted"):
        gate.hand_over(line=line, given=given(), by=hand, at=at)
    line.cart.fitments.create(kind="flag", fitted_on=yard_day(at))
    gate.hand_over(line=line, given=given(), by=hand, at=at)


def test_a_must_stops_no_certificate(hand, at):
    line = LineFactory(starts_at=at + 2 * DAY, cart=CartFactory(tyres=True))
    asks(line, gear={"flag": "must"})
    assert gate.issue_certificate(line=ready_for_paper(line, hand, at), by=None, at=at).subject_id == line.pk


def ready_for_paper(line, hand, at):
    walk.sign(line.cart, "pre_hire", by=hand, at=at - timedelta(hours=3))
    return line


def test_a_cart_already_there_is_warned_of_and_not_held(hand, at):
    line = LineFactory(starts_at=at - DAY, out_at=at - DAY)
    asks(line, gear={"flag": "must"})
    answer = gate.gate_readiness(line, at=at)
    assert codes(answer.blockers) == []
    assert codes(answer.cautions) == ["site.gear"]


def test_a_wash_down_is_void_once_the_cart_works_elsewhere(line, at):
    asks(line, papers={"wash_down": PaperAsked("must", 14)})
    issued = yard_day(at) - 4 * DAY
    DocumentFactory(cart=line.cart, kind="wash_down", issued_on=issued, expires_on=None)
    assert codes(gate.gate_readiness(line, at=at).blockers) == []
    # The same customer at the same site does not undo it; anybody else's work after it does.
    same = LineFactory(
        cart=line.cart, agreement__customer=line.agreement.customer, starts_at=at - 3 * DAY, out_at=at - 3 * DAY,
        came_back_at=at - 2 * DAY,
    )  # fmt: skip
    assert codes(gate.gate_readiness(line, at=at).blockers) == []
    before = LineFactory(
        cart=line.cart,
        agreement__place_of_work="Ridge Track",
        starts_at=at - 9 * DAY,
        out_at=at - 9 * DAY,
        came_back_at=at - 5 * DAY,
    )
    assert codes(gate.gate_readiness(line, at=at).blockers) == []
    LineFactory(
        cart=line.cart,
        agreement__place_of_work="Ridge Track",
        starts_at=at - 2 * DAY,
        out_at=at - 2 * DAY,
        came_back_at=at - DAY,
    )
    [stop] = [one for one in gate.gate_readiness(line, at=at).blockers if one.code == "site.paper"]
    assert "is void: the cart worked elsewhere after it" in stop.sentence
    assert same.pk != before.pk


def test_figures_are_read_from_the_record(line, at):
    asks(
        line, least_tread_mm=Decimal("12.0"), tread_how="must", noise_db=Decimal(80), noise_how="must",
        extinguisher="co2", extinguisher_kg=Decimal(5), extinguisher_how="must",
    )  # fmt: skip
    DocumentFactory(cart=line.cart, kind="noise", number="82.5 dB(A) at 7 m")
    found = {one.code: one.sentence for one in gate.gate_readiness(line, at=at).blockers}
    assert set(found) == {"site.tread", "site.noise", "site.extinguisher"}
    assert "8.0 mm" in found["site.tread"]
    assert "82.5 dB" in found["site.noise"]


def test_isolated_gear_is_not_there_for_a_site(line, at):
    asks(line, gear={"cannon": "must"})
    assert codes(gate.gate_readiness(line, at=at).blockers) == []
    LimitFactory(cart=line.cart, gear="cannon")
    assert codes(gate.gate_readiness(line, at=at).blockers) == ["site.gear"]
    assert Limit.objects.get().cart == line.cart


def _queries(lines, at):
    carts = [line.cart for line in lines]
    with CaptureQueriesContext(connection) as queries:
        readiness_each(carts, windows={line.cart_id: window_of(line) for line in lines}, at=at)
    return len(queries)


def test_queries_do_not_grow_with_the_carts(at):
    def some(count):
        lines = LineFactory.create_batch(count, starts_at=at + DAY)
        for line in lines:
            asks(line, gear={"flag": "must"}, papers={"wash_down": PaperAsked("must")})
            DocumentFactory(cart=line.cart, kind="wash_down")
        return lines

    assert _queries(some(2), at) == _queries(some(20), at)


def test_an_order_number_is_wanted_where_the_customer_asks_so(line, hand, at):
    customer, agreement = line.agreement.customer, line.agreement
    customer.asks_order_number = True
    customer.save()
    assert gate.gate_readiness(line, at=at).may_go
    agreement.order_number = ""
    agreement.save()
    with pytest.raises(gate.StoppedAtGate, match="wants an order number before a cart is handed over"):
        gate.hand_over(line=line, given=given(), by=hand, at=at)


def turned(**changed):
    return sites.Turned(
        **{
            "failed": "gear",
            "gear": "flag",
            "words": "No flag",
            "told_by_words": "Gate",
            "whose_cost": "yard",
            "done_words": "Brought back",
        }
        | changed
    )


def test_turned_away_is_written_once_and_only_while_it_was_out(people, desk, at):
    line = LineFactory(starts_at=at - 2 * DAY, out_at=at - 2 * DAY)
    row = sites.record_turned_away(line=line, turned=turned(at=at - DAY), by=desk, at=at)
    assert Entry.objects.get(event="hire.line.turned_away", chain__startswith="cart").subject_id == line.pk
    for moment in (at + DAY, at - 3 * DAY):
        with pytest.raises(sites.NotTurnedAway):
            sites.record_turned_away(line=line, turned=turned(at=moment), by=desk, at=at)
    with pytest.raises(sites.NotTurnedAway, match="has not left"):
        sites.record_turned_away(line=LineFactory(), turned=turned(at=at), by=desk, at=at)
    with pytest.raises(NotAllowed):
        sites.record_turned_away(line=line, turned=turned(at=at), by=people[Role.YARD_HAND], at=at)
    with pytest.raises(DatabaseError), transaction.atomic():
        TurnedAway.objects.filter(pk=row.pk).update(words="x")
    with pytest.raises(IntegrityError, match="names_what_failed"), transaction.atomic():
        TurnedAwayFactory(gear="")


def form_of(page):
    """Every field of a form as its page shows it."""
    form, data = page.context["form"], {}
    for bound in form:
        value = bound.value()
        data[bound.html_name] = "" if value is None else value
    return data


def test_turned_away_is_offered_to_the_sites_set(client, desk):
    at = timezone.now()
    line = LineFactory(starts_at=at - 2 * DAY, out_at=at - 2 * DAY)
    client.force_login(desk)
    answer = client.post(
        reverse("hire:turned_away", args=[line.pk]),
        {
            "at": typed_moment(at - DAY), "failed": "gear", "gear": "flag", "words": "No flag on a mast", "told_by_words": "Gate",
            "done_words": "Brought back", "whose_cost": "yard",
        },
    )  # fmt: skip
    assert answer.status_code == 302
    page = client.get(answer["Location"])
    assert page.context["form"].initial["gear_flag"] == "must"
    assert "was turned away" in text_of(page)
    assert client.post(answer["Location"], form_of(page)).status_code == 302
    made = SiteSet.objects.get()
    assert (made.site, made.asked().gear, made.turned_away) == (
        line.agreement.place_of_work,
        {"flag": "must"},
        TurnedAway.objects.get(),
    )
    hire = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "No flag on a mast" in hire
    assert "Saltbush Road widening, issue 1" in hire
    # A second time, its set is changed.
    again = client.post(
        reverse("hire:turned_away", args=[line.pk]),
        {
            "at": typed_moment(at - DAY), "failed": "paper", "paper": "noise", "words": "No noise figure", "told_by_words": "Gate",
            "done_words": "Sent on", "whose_cost": "open",
        },
    )  # fmt: skip
    page = client.get(again["Location"])
    assert client.post(again["Location"], form_of(page)).status_code == 302
    assert set(set_of(line).asked().papers) == {"noise"}
    assert set_of(line).issue == 2


def test_the_form_says_what_is_wrong_and_keeps_what_was_typed(client, desk):
    customer = CustomerFactory()
    client.force_login(desk)
    answer = client.post(
        reverse("hire:site_set_add", args=[customer.pk]),
        {"site": "Pit 4", "issue": 0, "gear_rops": "must", "gear_flag": "never", "age_noise": 30, "why": "x"},
    )  # fmt: skip
    assert answer.status_code == 422
    page = text_of(answer)
    assert '<option value="must" selected>Must</option>' in page
    assert "Flag and call sign: " in page
    assert "An age is given for noise figure" in page
    assert 'value="Pit 4"' in answer.content.decode()


def test_sets_are_listed_saved_and_read_by_everybody(client, people, desk):
    one = SiteSetFactory(asked=Asked(gear={"rops": "must"}, notes="Channel 14", axles="Steer 6 t"))
    client.force_login(desk)
    address = reverse("hire:site_set_list", args=[one.customer_id])
    assert one.site in text_of(client.get(address))
    assert [row["What"] for row in saved(client, address)] == ["Rollover frame"]
    client.force_login(people[Role.YARD_HAND])
    page = text_of(client.get(reverse("hire:site_set_detail", args=[one.pk])))
    assert "Rollover frame" in page
    assert "Channel 14" in page
    assert "Change it" not in page


def test_a_caller_is_told_what_each_cart_lacks_for_their_site(client, desk):
    customer = CustomerFactory()
    SiteSetFactory(customer=customer, site="Pit 4", asked=Asked(gear={"flag": "must", "spill_kit": "asked"}))
    with_flag, without = CartFactory(fleet_number="RG50"), CartFactory(fleet_number="RG10")
    with_flag.fitments.create(
        kind="flag", fitted_on=yard_day(with_flag.last_moved_at) if with_flag.last_moved_at else "2026-01-01"
    )
    client.force_login(desk)
    asked = {
        "starts_at": "2027-03-01T06:00", "ends_at": "2027-03-08T16:00", "leaves_by": "road", "works_on": "site",
        "place_of_work": "pit 4", "customer": customer.pk,
    }  # fmt: skip
    page = client.get(reverse("hire:enquiry"), asked)
    offers = {one.cart.pk: one for one in (*page.context["found"].suiting, *page.context["found"].stopped)}
    assert [one.subject for one in offers[with_flag.pk].site] == ["spill_kit"]
    assert [(one.subject, one.is_must) for one in offers[without.pk].site] == [
        ("flag", True),
        ("spill_kit", False),
    ]
    words = text_of(page)
    assert "Stopped at the gate for this site:" in words
    assert "Workshop: fit it and record it" in words
    elsewhere = text_of(client.get(reverse("hire:enquiry"), asked | {"place_of_work": "Pit 9"}))
    assert "Nobody wrote down what this site" in elsewhere
