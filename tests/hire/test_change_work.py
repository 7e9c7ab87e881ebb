"""What was said of a hire's work put right: the old words kept, what can no longer be refused, and what else changes with it."""

from dataclasses import replace
from datetime import date, time, timedelta
from functools import partial

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models.carts import Cart
from hire.actions.agreements import NotForDrinkingWater, cancel_line
from hire.actions.gate import gate_readiness, hand_over, issue_for_line, valid_certificate
from hire.actions.money import agree_terms
from hire.actions.work import (
    AsItWas,
    ChangedMeanwhile,
    HasLeft,
    NotWhereItIs,
    ShiftIsManned,
    WorkOver,
    change_work,
)
from hire.charge_facts import terms_of
from hire.daily_facts import missing_days
from hire.lapsed import lapsed_of
from hire.models.agreements import Agreement, Line
from hire.models.packs import PackSending
from hire.needs_check import ISOLATED
from hire.packs_due import packs_wanted
from hire.promises import need_of
from hire.site_rules import Asked, PaperAsked
from hire.suiting import Needs
from hire.watch import pre_starts_lapsed
from hire.work_words import said_of, stamp
from inspections.certificates.actions import paper_of
from inspections.certificates.models import Certificate
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import DESK, Role
from people.yard import at_local, yard_day
from tests.at_once import at_once
from tests.factories.fleet import GEAR, CartFactory, DefectFactory, DocumentFactory, LimitFactory
from tests.factories.hire import LineFactory, given
from tests.factories.money import AgreedTermsFactory, DocketFactory
from tests.factories.people import StaffFactory
from tests.factories.sites import SitePackFactory, SiteSetFactory
from tests.factories.water import WaterCarriedFactory
from tests.factories.wet import TurnFactory, WetHireFactory, wet_out
from tests.pages import text_of

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def change(line, by, at, *, seen=None, why="Told wrong by phone", **said):
    line = Line.objects.for_list().get(pk=line.pk)
    work = replace(said_of(line), **said)
    return change_work(line=line, work=work, seen=seen or stamp(line), why=why, by=by, at=at)


def out(at, **more):
    """Out for five days, with our pre-start book."""
    starts = at_local(yard_day(at) - 5 * DAY, time(6))
    said = {"starts_at": starts, "out_at": starts, "ends_at": at + 9 * DAY, "agreement__days_in_week": 7}
    return LineFactory(**said | more)


def test_the_words_are_put_right_and_the_old_ones_stay_in_the_journal(line, desk, at):
    done = change(line, desk, at, place_of_work="Callabar pit", leaves_by="float", shift="both")
    about = Agreement.objects.get()
    assert (about.place_of_work, about.leaves_by, about.shifts_a_day) == ("Callabar pit", "float", 2)
    assert done.line.agreement == about
    written = Entry.objects.filter(event="hire.agreement.work_changed")
    assert set(written.values_list("chain", flat=True)) == {f"cart:{line.cart_id}", "yard"}
    text = written.first().text
    assert '"before":{"leaves_by":"road","place_of_work":"Saltbush Road widening","shift":"day"}' in text
    assert '"after":{"leaves_by":"float","place_of_work":"Callabar pit","shift":"both"}' in text
    assert '"why":"Told wrong by phone"' in text
    assert list(faults_in_journal()) == []


def test_the_certificate_is_issued_anew_with_the_new_words(line, hand, desk, at):
    old = valid_certificate(line)
    done = change(line, desk, at, place_of_work="Callabar pit", works_on="site")
    assert "one is issued anew" in done.also[0]
    assert valid_certificate(line) is None
    issue_for_line(line.pk, at)
    new = valid_certificate(line)
    assert (new.replaces, new.revision) == (old, 2)
    hire = paper_of(new).hire
    assert (hire.place_of_work, hire.works) == ("Callabar pit", "site only")
    assert hand_over(line=line, given=given(), by=desk, at=at)


def test_what_no_paper_says_leaves_the_certificate(line, desk, at):
    old = valid_certificate(line)
    done = change(line, desk, at, pre_start_book="theirs")
    assert valid_certificate(line) == old
    assert done.also == ()
    line.refresh_from_db()
    assert line.changed_at is None


def test_readiness_is_judged_by_the_new_words(line, desk, at):
    change(line, desk, at, needs=Needs(gear=frozenset({"fire_suppression"})))
    found = gate_readiness(Line.objects.for_list().get(pk=line.pk), at=at)
    assert "fire suppression, and none is fitted" in found.blockers[0].sentence


def test_gear_the_job_does_without_after_all_lets_the_cart_go_with_its_limit(line, desk, at):
    Line.objects.filter(pk=line.pk).update(gear=["cannon"], litres=9_000)
    LimitFactory(defect=DefectFactory(cart=line.cart, gear="cannon", grade="by_date", told_at=at - 2 * HOUR))

    def stops():
        found = gate_readiness(Line.objects.for_list().get(pk=line.pk), at=at)
        return [one.code for one in found.blockers]

    assert ISOLATED in stops()
    done = change(line, desk, at, needs=Needs(litres=9_000))
    assert done.also == ("Asked for now: 9,000 L.",)
    assert ISOLATED not in stops()


def test_a_pack_sent_before_is_wanted_again(line, desk, at):
    customer = line.agreement.customer
    SiteSetFactory(customer=customer, site="", asked=Asked(papers={"insurance": PaperAsked("must")}))
    pack = SitePackFactory(line=line, made_at=at - DAY)
    PackSending.objects.create(
        pack=pack, sent_at=at - DAY, to_words="Gate", how="email", recorded_at=at - DAY, by=desk
    )
    soon = at - HOUR
    assert line not in packs_wanted(at=soon)
    assert (
        "The site pack goes out again: make a new one." in change(line, desk, soon, place_of_work="Pit").also
    )
    assert line in packs_wanted(at=soon)


def test_every_cart_of_the_agreement_is_told(line, desk, at):
    other = LineFactory(agreement=line.agreement, starts_at=at + DAY)
    change(line, desk, at, place_of_work="Callabar pit")
    chains = Entry.objects.filter(event="hire.agreement.work_changed").values_list("chain", flat=True)
    assert f"cart:{other.cart_id}" in chains
    other.refresh_from_db()
    assert other.changed_at == at


def test_a_cart_that_is_out_is_where_it_was_gone_to_by_its_right_name(line, desk, at):
    hand_over(line=line, given=given(), by=desk, at=at)
    paper = valid_certificate(line)
    done = change(line, desk, at + HOUR, place_of_work="Callabar pit")
    assert "The certificate it left with stays as it is." in done.also
    assert valid_certificate(line) == paper
    assert Cart.objects.get(pk=line.cart_id).where_words == "Gone to Callabar pit"


def unsanitised():
    cart = CartFactory(gear=(*GEAR, "potable_tank"))
    WaterCarriedFactory(cart=cart)
    return cart


class TestRefused:
    def test_how_it_leaves_once_it_has_left(self, desk, at):
        line = out(at, cart__fleet_number="RG07")
        with pytest.raises(HasLeft, match=r"RG07 has left on H2025-\d+, driven on the road\. That stays"):
            change(line, desk, at, leaves_by="float")

    def test_potable_of_a_tank_that_may_never(self, line, desk, at):
        with pytest.raises(NotForDrinkingWater, match="RG07 is not for potable water") as refused:
            change(line, desk, at, water="potable")
        assert refused.value.field == "water"
        assert valid_certificate(line)

    def test_potable_of_a_tank_that_may_and_is_not_sanitised_once_it_is_out(self, desk, at):
        waiting, gone = LineFactory(cart=unsanitised()), out(at, cart=unsanitised())
        assert change(waiting, desk, at, water="potable")
        with pytest.raises(
            NotWhereItIs, match="A cart is out on this hire and may not do that work"
        ) as refused:
            change(gone, desk, at, water="potable")
        assert refused.value.field == "water"
        gone.agreement.refresh_from_db()
        assert gone.agreement.water == "any"

    def test_the_road_for_a_cart_on_site_that_may_not_be_driven_there(self, desk, at):
        line = out(at, agreement__leaves_by="float", agreement__works_on="site")
        DocumentFactory(cart=line.cart, expires_on=yard_day(at) - DAY)
        with pytest.raises(NotWhereItIs, match="egistration") as refused:
            change(line, desk, at, works_on="road")
        assert refused.value.field == "works_on"
        # What stopped it before stops no correction of something else.
        assert change(line, desk, at, place_of_work="Pit 4")

    def test_one_shift_while_an_operator_is_put_down_for_the_night(self, at, desk):
        wet = WetHireFactory(line=LineFactory(agreement__shifts_a_day=2))
        turn = TurnFactory(line=wet.line, shift=2)
        with pytest.raises(ShiftIsManned, match=f"{turn.operator} is put down for the night shift"):
            change(wet.line, desk, at, shift="day")

    def test_a_hire_that_is_over(self, line, desk, at):
        cancel_line(line=line, why="Rain", by=desk, at=at)
        with pytest.raises(WorkOver, match="Its work stays as it was"):
            change(line, desk, at, place_of_work="Pit")

    def test_nothing_and_what_another_desk_changed_meanwhile(self, line, desk, at):
        with pytest.raises(AsItWas):
            change(line, desk, at)
        seen = stamp(line)
        change(line, desk, at, place_of_work="Pit 4")
        with pytest.raises(ChangedMeanwhile):
            change(line, desk, at, seen=seen, place_of_work="Pit 5")

    @pytest.mark.parametrize("role", set(Role) - DESK)
    def test_by_nobody_but_the_desk(self, role, line, at):
        with pytest.raises(NotAllowed):
            change(line, StaffFactory(role=role), at, place_of_work="Pit")


class TestPreStarts:
    """Noon of the yard's day; a day's pre-start is wanted by 9."""

    @pytest.fixture
    def noon(self):
        return at_local(date(2026, 12, 4), time(12))

    def days(self, line, at):
        line = Line.objects.for_list().get(pk=line.pk)
        return [(one.shift.on.day, one.shift.words) for one in lapsed_of([line], at=at)[line.pk]]

    def alerted(self, line, at):
        return line.pk in [one.subject_id for one in pre_starts_lapsed(at)]

    def test_owed_to_us_from_now_on_where_the_book_becomes_ours(self, desk, noon):
        line = out(noon, agreement__pre_start_book="theirs")
        done = change(line, desk, noon, pre_start_book="ours")
        assert "From now on a pre-start is owed to us for each day." in done.also
        assert not self.days(line, noon)
        assert not self.alerted(line, noon)
        assert need_of(line.pk, at=noon).shift_from is None
        assert self.days(line, noon + DAY) == [(5, "")]
        assert self.alerted(line, noon + DAY)
        assert need_of(line.pk, at=noon + DAY).shift_from

    def test_no_change_hides_what_lapsed_before_it(self, desk, noon):
        line = out(noon)
        before = self.days(line, noon)
        assert before == [(4, ""), (3, ""), (2, ""), (1, ""), (30, "")]
        done = change(line, desk, noon, shift="both")
        assert "From now on a pre-start is owed to us for each shift, day and night." in done.also
        assert self.days(line, noon) == before
        assert self.alerted(line, noon)
        assert self.days(line, noon + DAY) == [(5, "day shift"), (4, "night shift"), *before]

    def test_the_book_given_up_owes_none(self, desk, noon):
        line = out(noon)
        assert (
            "From now on no pre-start is owed to us."
            in change(line, desk, noon, pre_start_book="theirs").also
        )
        assert not self.alerted(line, noon)


class TestCharged:
    def test_what_a_docket_charged_stays_as_charged(self, desk, at):
        line = out(at)
        agreed = AgreedTermsFactory(line=line)
        DocketFactory(line=line)
        done = change(line, desk, at, shift="both")
        assert "Dockets charged one shift a day, and that stays" in done.also[-1]
        again = agree_terms(line=line, rule=agreed.rule, typed=agreed.body, by=desk, at=at + HOUR)
        assert again.terms().shifts_a_day == 1

    def test_a_rate_agreed_stays_until_it_is_agreed_anew(self, desk, at):
        line = out(at)
        agreed = AgreedTermsFactory(line=line)
        done = change(line, desk, at, shift="both")
        assert "The rate agreed is for the shifts as they were: agree it anew" in done.also[-1]
        assert terms_of(line).terms().shifts_a_day == 1
        again = agree_terms(line=line, rule=agreed.rule, typed=agreed.body, by=desk, at=at + HOUR)
        assert again.terms().shifts_a_day == 2

    def test_no_night_docket_is_missed_of_the_days_before(self, desk, at):
        line = wet_out(at=at, days=5).line
        before = [(one.on, one.shift) for one in missing_days([line], at=at)]
        change(line, desk, at - DAY, shift="both")
        line = Line.objects.for_list().get(pk=line.pk)
        assert [(one.on, one.shift) for one in missing_days([line], at=at)] == before
        assert {one.shift for one in missing_days([line], at=at + DAY) if one.on == yard_day(at)} == {
            "day",
            "night",
        }


@pytest.mark.django_db(transaction=True)
def test_two_desks_put_it_right_at_once_and_one_is_told(at):
    desk, line = StaffFactory(role="hire_desk"), LineFactory(starts_at=at + DAY)
    seen = stamp(Line.objects.for_list().get(pk=line.pk))
    places = ("Pit 4", "Pit 5")
    given_back = at_once(
        *(partial(change, line, desk, at, seen=seen, place_of_work=place) for place in places)
    )
    assert sorted(type(one).__name__ for one in given_back) == ["Changed", "ChangedMeanwhile"]


class TestPages:
    @pytest.fixture
    def client(self, client, desk):
        client.force_login(desk)
        return client

    @pytest.fixture
    def line(self):
        return LineFactory(starts_at=timezone.now() + DAY, gear=["cannon"], cart__fleet_number="RG07")

    def typed(self, client, line, **changed):
        form = client.get(reverse("hire:work_change", args=[line.pk])).context["form"]
        said = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
        return (
            {name: value for name, value in said.items() if value is not None}
            | {"why": "Told wrong"}
            | changed
        )

    def test_from_the_page_of_the_hire_and_back_to_it(self, client, line):
        address = reverse("hire:work_change", args=[line.pk])
        assert address in text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
        page = text_of(client.post(address, self.typed(client, line, place_of_work="Pit 4"), follow=True))
        assert "The work is changed. Its certificate is withdrawn, and one is issued anew" in page
        assert "RG07: Ready once" in page
        assert "<dd>Pit 4" in page
        line.refresh_from_db()
        assert line.gear == ["cannon"]

    def test_refused_it_comes_back_with_what_was_typed(self, client, line):
        address = reverse("hire:work_change", args=[line.pk])
        answer = client.post(address, self.typed(client, line, water="potable", place_of_work="Pit 9"))
        assert answer.status_code == 422
        assert "not for potable water" in str(answer.context["form"].errors["water"])
        assert "Pit 9" in text_of(answer)
        assert not Certificate.objects.exists()

    def test_it_asks_for_why(self, client, line):
        address = reverse("hire:work_change", args=[line.pk])
        answer = client.post(address, self.typed(client, line, place_of_work="Pit 9", why=""))
        assert answer.status_code == 422
        assert "why" in answer.context["form"].errors
