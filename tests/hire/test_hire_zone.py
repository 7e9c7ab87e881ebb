"""A hire by its own clock, calendar and road rules: a yard in Sydney, a site in Perth."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.readiness import readiness
from fleet.road_fill import road_fill
from fleet.water.road import NoFigure, RoadFill
from hire import load_page
from hire.actions.agreements import make_agreement
from hire.actions.links import make_link
from hire.actions.off_hire import PickUp, call_off
from hire.actions.work import HasLeft, change_work
from hire.charge_facts import charges_to
from hire.docket_files import docket_html
from hire.docket_words import clock_words
from hire.models.agreements import Agreement, Line
from hire.owed_facts import Out, works_of
from hire.promises import window_of
from hire.public_holidays import UnknownRegion, holidays_by_region, region_of
from hire.runs import Run
from hire.screens import charge_words
from hire.where import UnknownZone
from hire.work_words import said_of, stamp
from people.journal.models import Entry
from people.yard import yard_policy
from servicing.due import findings
from tests.factories.fleet import CartFactory, TreadReadingFactory, TyreFittingFactory
from tests.factories.hire import CustomerFactory, LineFactory, LoadFactory
from tests.factories.money import BODY, AgreedTermsFactory, DocketFactory
from tests.factories.runs import RunNoteFactory
from tests.factories.weights import TankMeasuredFactory, TicketFactory, WeightSheetFactory, weighable_cart
from tests.pages import text_of
from tests.worked import tables

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
SYDNEY, PERTH = ZoneInfo("Australia/Sydney"), ZoneInfo("Australia/Perth")
PICK_UP = PickUp("Red Hill pit, gate 2", "In the site office", "The customer, until pick-up")
[CALLS] = tables("charges.md", "By the site's clock")


@pytest.fixture(autouse=True)
def sydney(settings):
    settings.YARD_TIME_ZONE, settings.YARD_HOLIDAY_REGION = "Australia/Sydney", "NSW"
    yard_policy.cache_clear()
    yield
    yard_policy.cache_clear()


def in_(zone, text):
    return datetime.strptime(text, "%Y-%m-%d %H:%M").replace(tzinfo=zone).astimezone(UTC)


def out_line(left, *, back=None, number="RG07", **agreement):
    about = {
        f"agreement__{name}": value for name, value in ({"time_zone": "Australia/Perth"} | agreement).items()
    }
    return LineFactory(
        cart__fleet_number=number,
        starts_at=left,
        ends_at=left + 30 * DAY,
        out_at=left,
        came_back_at=back,
        **about,
    )


@pytest.mark.parametrize("row", CALLS, ids=lambda row: row[0])
def test_the_cut_off_and_the_last_day_are_the_sites(row, desk):
    ours, theirs, stops, last = row
    called = in_(SYDNEY, ours)
    assert called == in_(PERTH, theirs)
    line = out_line(called - 20 * DAY)
    AgreedTermsFactory(line=line)
    call = call_off(
        line=line, called_at=called, called_by_words="Kit Olsen", pick_up=PICK_UP, by=desk, at=called
    )
    assert call.stops_at == in_(PERTH, stops)
    assert charges_to(line, line.agreed_terms.get(), through=None).through == date.fromisoformat(last)


def test_what_the_call_does_is_said_by_the_sites_clock(client, desk):
    line = out_line(in_(PERTH, "2026-11-10 06:00"))
    called = in_(PERTH, "2026-11-20 14:30")
    call = call_off(
        line=line, called_at=called, called_by_words="Kit Olsen", pick_up=PICK_UP, by=desk, at=called
    )
    client.force_login(desk)
    page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "Sat 21 Nov 2.00 pm AWST" in page
    assert "Tue 10 Nov, 6.00" in page
    assert "Perth time</dd>" in page
    assert "AWST" not in charge_words(call, at=called)
    # The next request is the yard's again.
    assert "AWST" not in text_of(client.get(reverse("hire:line_list")))
    form = text_of(client.get(reverse("hire:off_hire_left", args=[call.pk])))
    assert "When it left the site, Perth time" in form


def test_a_time_typed_on_its_page_is_the_sites(client, desk):
    now = timezone.now()
    line = out_line(now - 9 * DAY)
    client.force_login(desk)
    address = reverse("hire:off_hire_call", args=[line.pk])
    assert "2.00 pm, Perth time" in text_of(client.get(address))
    typed = {
        "called_by_words": "Kit",
        "pick_up_words": "Gate 2",
        "keys_words": "Office",
        "risk_words": "Theirs",
    }
    moment = (now - DAY).replace(second=0, microsecond=0)
    told = typed | {"called_at": f"{moment.astimezone(PERTH):%Y-%m-%dT%H:%M}"}
    assert client.post(address, told).status_code == 302
    assert line.off_hires.get().called_at == moment


def test_its_holidays_are_its_regions_until_the_terms_say_otherwise():
    perth = out_line(in_(PERTH, "2026-09-21 06:00"), holiday_region="WA")
    span = {"first": date(2026, 9, 21), "last": date(2026, 10, 6)}
    for line, body, free in (
        (perth, {}, {date(2026, 9, 28)}),
        (perth, {"holiday_region": "NSW"}, {date(2026, 10, 5)}),
        (out_line(in_(PERTH, "2026-09-21 06:00"), number="RG08"), {}, {date(2026, 10, 5)}),
    ):
        region = region_of(line.agreement, body)
        assert set(holidays_by_region([region], **span)[region]) == free
    agreed = AgreedTermsFactory(line=perth, body=BODY | {"holidays": "free"})
    # 21 September to 6 October, the King's Birthday not charged.
    assert charges_to(perth, agreed, through=date(2026, 10, 6)).hire_days == 15
    work = works_of([Out.of(perth)], since=in_(PERTH, "2026-09-21 06:00"), at=in_(PERTH, "2026-10-06 06:00"))
    assert date(2026, 9, 28) in work[perth.pk].holidays
    assert date(2026, 10, 5) not in work[perth.pk].holidays


def test_of_another_rule_set_they_are_that_countrys():
    line = out_line(
        in_(PERTH, "2026-09-21 06:00"), time_zone="Europe/London", rule_set="uk", holiday_region="SCT"
    )
    region = region_of(line.agreement, {"holiday_region": "NSW"})
    assert region == "GB:SCT"
    assert (
        date(2026, 11, 30)
        in holidays_by_region([region], first=date(2026, 11, 1), last=date(2026, 12, 1))[region]
    )


def test_loads_are_counted_by_the_sites_day():
    line = out_line(in_(PERTH, "2026-11-10 06:00"))
    # Half past one in the night in Sydney, half past ten in the evening in Perth.
    LoadFactory(line=line, taken_at=in_(SYDNEY, "2026-11-12 01:30"), litres=9_000)
    assert load_page.tally(line, on=date(2026, 11, 11)).litres == 9_000
    assert [row["day"] for row in load_page.by_day(line)] == [date(2026, 11, 11)]
    [row] = load_page.load_table(line, line.loads.for_list())
    assert row[0] == date(2026, 11, 11)


def test_the_run_sheet_has_the_sites_start_with_the_yards_beside_it():
    line = LineFactory(starts_at=in_(SYDNEY, "2026-12-02 05:00"), agreement__time_zone="Australia/Perth")
    note = RunNoteFactory(line=line, start=time(6, 30))
    run = Run("Leaves", line.promised.lower, "out", "RG07", "", "", "", line, note)
    assert (run.start_words, run.start_cell) == ("6.30 am AWST, 9.30 am here", "06:30 AWST")
    line.agreement.time_zone = "Australia/Sydney"
    assert (run.start_words, run.start_cell) == ("6.30 am", "06:30")


def test_a_docket_says_by_whose_clock_it_counts():
    line = out_line(in_(PERTH, "2026-11-10 06:00"), holiday_region="WA")
    assert list(clock_words(line.agreement)) == [
        ("Days and times", "by Perth time (Australia/Perth)"),
        ("Holidays, where no others are agreed above", "of WA"),
    ]
    assert not list(clock_words(LineFactory(agreement__time_zone="Australia/Sydney").agreement))
    docket = DocketFactory(line=line, made_at=in_(PERTH, "2026-11-19 22:00"))
    assert "Made 19 Nov 2026" in docket_html(docket)


def test_the_customers_page_goes_by_it_too(client, desk):
    now = timezone.now()
    line = out_line(now - DAY)
    _, token = make_link(line=line, for_words="Kit", by=desk, at=now)
    assert "AWST" in text_of(client.get(reverse("hire:customer_page", args=[token])))


class TestChoosingIt:
    def make(self, desk, at, **where):
        return make_agreement(
            customer=CustomerFactory(), place_of_work="Red Hill pit", leaves_by="float", works_on="site", pre_start_book="ours",
            order_number="", cart=CartFactory(), starts_at=at + DAY, ends_at=at + 9 * DAY, by=desk, at=at, **where,
        ).agreement  # fmt: skip

    def test_the_yards_own_where_nobody_says(self, desk, at):
        made = self.make(desk, at)
        assert (made.time_zone, made.rule_set, made.holiday_region) == ("Australia/Sydney", "au", "")

    def test_as_said_however_it_was_typed(self, desk, at):
        made = self.make(desk, at, time_zone="america/new york", rule_set="us", holiday_region="NY")
        assert (made.time_zone, made.rule_set, made.holiday_region) == ("America/New_York", "us", "NY")

    def test_what_there_is_not_is_refused(self, desk, at):
        with pytest.raises(UnknownZone, match="“Perth” is no time zone"):
            self.make(desk, at, time_zone="Perth")
        with pytest.raises(UnknownRegion, match="United States holidays knows no QLD"):
            self.make(desk, at, rule_set="us", holiday_region="QLD")
        assert not Agreement.objects.exists()

    def test_changed_until_the_first_cart_has_left(self, desk, at):
        line = LineFactory(starts_at=at + DAY, agreement__time_zone="Australia/Sydney")
        line = Line.objects.for_list().get(pk=line.pk)
        self.change(line, desk, at, time_zone="australia/perth", holiday_region="WA")
        line.refresh_from_db()
        assert (line.agreement.time_zone, line.agreement.holiday_region) == ("Australia/Perth", "WA")
        assert (
            '"time_zone":"Australia/Sydney"'
            in Entry.objects.filter(event="hire.agreement.work_changed").first().text
        )
        gone = LineFactory(
            agreement=line.agreement, starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - DAY
        )
        for name, value in (("time_zone", "Australia/Darwin"), ("holiday_region", "NT"), ("rule_set", "us")):
            with pytest.raises(HasLeft, match=f"{gone.cart.fleet_number} has left") as refused:
                self.change(
                    line, desk, at, **{name: value} | ({"holiday_region": ""} if name == "rule_set" else {})
                )
            assert refused.value.field in {"time_zone", "rule_set", "holiday_region"}

    def change(self, line, desk, at, **said):
        line = Line.objects.for_list().get(pk=line.pk)
        work = said_of(line).__class__(**vars(said_of(line)) | said)
        return change_work(line=line, work=work, seen=stamp(line), why="Told by phone", by=desk, at=at)

    def test_the_form_offers_them_under_more(self, client, desk):
        client.force_login(desk)
        page = text_of(client.get(reverse("hire:line_add")))
        more = page[page.index("<details") :]
        for words in (
            'value="Australia/Sydney"',
            '<option value="Australia/Perth">',
            "Public holidays of",
            "Rule set of the site",
        ):
            assert words in more
        typed = {"time_zone": "Nowhere", "customer": CustomerFactory().pk, "cart": CartFactory().pk}
        assert "<details open" in self.typed(client, 422, **typed)
        self.typed(client, 302, **typed | {"time_zone": "Australia/Perth", "holiday_region": "WA"})
        made = Agreement.objects.get()
        assert (made.time_zone, made.holiday_region, made.rule_set) == ("Australia/Perth", "WA", "au")

    def typed(self, client, status, **typed):
        usual = {
            "place_of_work": "Red Hill pit", "leaves_by": "float", "works_on": "site", "pre_start_book": "ours",
            "water": "any", "starts_at": "2027-02-01T05:30", "ends_at": "2027-02-08T16:00",
        }  # fmt: skip
        answer = client.post(reverse("hire:line_add"), usual | typed)
        assert answer.status_code == status
        return text_of(answer)

    def test_a_hire_that_has_left_is_not_offered_another(self, client, desk, at):
        client.force_login(desk)
        line = LineFactory(starts_at=at + DAY)
        address = reverse("hire:work_change", args=[line.pk])
        assert "Time zone of the site" in text_of(client.get(address))
        LineFactory(
            agreement=line.agreement, starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - DAY
        )
        assert "Time zone of the site" not in text_of(client.get(address))


class TestRuleSet:
    @pytest.mark.parametrize(
        ("depth", "rules", "code"),
        [
            ("3.1", "au", "tyre.change_out"),
            ("3.1", "us", "tyre.below_legal"),
            ("3.3", "us", "tyre.change_out"),
            ("1.2", "uk", "tyre.below_legal"),
        ],
    )
    def test_a_tyre_keeps_the_stricter_of_the_yards_and_the_hires(self, at, depth, rules, code):
        line = LineFactory(starts_at=at + DAY, agreement__rule_set=rules)
        fitting = TyreFittingFactory(cart=line.cart, code="1L")
        TreadReadingFactory(fitting=fitting, depth_mm=Decimal(depth))
        found = findings([line.cart], windows={line.cart_id: window_of(line)}, at=at)[line.cart_id]
        [tyre] = [one for one in found.blockers if one.code.startswith("tyre.")]
        assert tyre.code == code
        says_whose = "United States rules, under which this hire works" in tyre.sentence
        assert says_whose is (code == "tyre.below_legal" and rules == "us")

    def test_deeper_than_any_of_the_yards_own_it_is_still_looked_at(self, at, settings):
        settings.YARD_TREAD_STEER_TENTHS_MM = settings.YARD_TREAD_OTHER_TENTHS_MM = 10
        yard_policy.cache_clear()
        line = LineFactory(starts_at=at + DAY, agreement__rule_set="us")
        TreadReadingFactory(fitting=TyreFittingFactory(cart=line.cart, code="1L"), depth_mm=Decimal("3.1"))
        answer = readiness(line.cart, window=window_of(line), at=at)
        assert any(one.code == "tyre.below_legal" for one in answer.blockers)

    def test_a_road_fill_of_other_plates_is_refused_in_words(self):
        cart = weighable_cart()
        WeightSheetFactory(cart=cart)
        TankMeasuredFactory(cart=cart)
        TicketFactory(cart=cart)
        on = date(2027, 1, 5)
        assert isinstance(road_fill(cart, on=on, rule_set="au"), RoadFill)
        none = road_fill(cart, on=on, rule_set="uk")
        assert isinstance(none, NoFigure)
        assert (
            "entered under Australian limits, and this hire works under United Kingdom limits"
            in none.sentence
        )
        line = LineFactory(cart=cart, agreement__rule_set="uk", agreement__works_on="road")
        assert load_page.usual(line, on=on).litres is None
