"""A site's set says by whose clock, holidays and rules its hires go: taken over once, typed words before it, never afterwards."""

from datetime import timedelta
from zoneinfo import available_timezones

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from hire.actions import sites
from hire.actions.agreements import make_agreement
from hire.actions.bookings import promise_booking
from hire.models.agreements import Agreement
from hire.models.sites import SiteSet
from hire.public_holidays import UnknownRegion
from hire.site_rules import Asked
from hire.site_where import Where, where_body, where_from, where_of_hire
from hire.where import UnknownZone
from people.yard import yard_policy
from tests.factories.fleet import CartFactory
from tests.factories.hire import BookingFactory, CustomerFactory
from tests.factories.sites import SiteSetFactory
from tests.pages import saved, text_of
from tests.worked import tables

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
PIT = "Red Hill pit"
PERTH = Where("Australia/Perth", "WA", "")
[ROWS] = tables("sites.md", "Its clock, holidays and rules")


@pytest.fixture(autouse=True)
def sydney(settings):
    settings.YARD_TIME_ZONE, settings.YARD_HOLIDAY_REGION = "Australia/Sydney", "NSW"
    yard_policy.cache_clear()
    yield
    yard_policy.cache_clear()


def where(cell):
    """A cell of the table: a zone, a region and a rule set, each or none of them."""
    words = [word for word in cell.split(", ") if word]
    zone = next((word for word in words if word in available_timezones()), "")
    rules = next((word for word in words if word in ("au", "us", "uk")), "")
    return Where(zone, next((word for word in words if word not in (zone, rules)), ""), rules)


def pit_set(said=PERTH, **kwargs):
    return SiteSetFactory(site=kwargs.pop("site", PIT), body={"gear": {}} | where_body(said), **kwargs)


def make(customer, desk, at, **typed):
    return make_agreement(
        customer=customer, place_of_work=typed.pop("place", PIT), leaves_by="float", works_on="site", pre_start_book="ours",
        order_number="", cart=CartFactory(), starts_at=at + DAY, ends_at=at + 9 * DAY, by=desk, at=at, **typed,
    ).agreement  # fmt: skip


def goes_by(agreement):
    return Where(agreement.time_zone, agreement.holiday_region, agreement.rule_set)


@pytest.mark.parametrize("row", ROWS, ids=" | ".join)
def test_the_worked_table(row):
    typed, asked, found = map(where, row)
    assert where_of_hire(pit_set(asked).customer, PIT, typed) == found


def test_only_what_is_said_stands_in_a_set():
    assert where_body(Where()) == {}
    assert where_from({"gear": {}}) == Where()
    assert where_from(where_body(PERTH)) == PERTH


def test_a_hire_takes_it_over_and_one_elsewhere_does_not(desk, at):
    customer = pit_set().customer
    assert goes_by(make(customer, desk, at, place="red hill  PIT")) == Where("Australia/Perth", "WA", "au")
    assert goes_by(make(customer, desk, at, place="Elsewhere")).time_zone == "Australia/Sydney"
    assert goes_by(make(CustomerFactory(), desk, at)).time_zone == "Australia/Sydney"
    pit_set(Where("Australia/Darwin", "NT"), customer=customer, site="")
    assert goes_by(make(customer, desk, at, place="Elsewhere")) == Where("Australia/Darwin", "NT", "au")


def test_what_was_typed_counts_before_it(desk, at):
    made = make(pit_set().customer, desk, at, time_zone="australia/darwin", holiday_region="NT")
    assert goes_by(made) == Where("Australia/Darwin", "NT", "au")


def test_a_booking_takes_it_over_when_it_becomes_a_hire(desk, at):
    customer = pit_set().customer
    booking = BookingFactory(customer=customer, place_of_work=PIT, starts_at=at + DAY, ends_at=at + 5 * DAY)
    line = promise_booking(booking, CartFactory(), by=desk, at=at)
    assert goes_by(line.agreement) == Where("Australia/Perth", "WA", "au")


def write(customer, desk, at, said, **changed):
    asked = Asked(gear={"flag": "must"})
    return sites.write_site_set(
        customer=customer, site=PIT, asked=asked, where=said, why="Told by phone", by=desk, at=at, **changed
    )


def test_changing_the_set_changes_no_hire_made_already(desk, at):
    customer = CustomerFactory()
    first = write(customer, desk, at, Where("australia/perth", "WA"))
    assert where_from(first.body) == PERTH, "as the tz database writes it"
    made = make(customer, desk, at)
    second = write(customer, desk, at, Where("Australia/Darwin", "NT"), issue=1)
    made.refresh_from_db()
    assert goes_by(made) == Where("Australia/Perth", "WA", "au")
    assert goes_by(make(customer, desk, at)) == Where("Australia/Darwin", "NT", "au")
    assert second.issue == 2
    with pytest.raises(sites.SameAsBefore):
        write(customer, desk, at, Where("Australia/Darwin", "NT"), issue=2)


@pytest.mark.parametrize(
    ("said", "refusal"),
    [
        (Where("Perth"), UnknownZone),
        (Where("", "NY"), UnknownRegion),
        (Where("", "QLD", "us"), UnknownRegion),
    ],
)
def test_what_there_is_not_is_refused(desk, at, said, refusal):
    with pytest.raises(refusal):
        write(CustomerFactory(), desk, at, said)
    assert not SiteSet.objects.exists()


def test_it_is_looked_up_in_one_query(desk, at):
    customer = pit_set().customer
    pit_set(customer=customer, site="Another")
    with CaptureQueriesContext(connection) as queries:
        where_of_hire(customer, PIT, Where())
    assert len(queries) == 1


def test_the_form_of_a_set_keeps_what_was_typed_and_shows_what_is_kept(client, desk):
    customer = CustomerFactory()
    client.force_login(desk)
    add = reverse("hire:site_set_add", args=[customer.pk])
    typed = {"site": PIT, "issue": 0, "why": "Told by phone", "time_zone": "Nowhere", "holiday_region": "WA"}
    answer = client.post(add, typed)
    page = text_of(answer)
    assert answer.status_code == 422
    assert "is no time zone" in page
    assert 'value="Nowhere"' in page
    assert '<option value="WA" selected>' in page
    assert client.post(add, typed | {"time_zone": "Australia/Perth"}).status_code == 302
    made = SiteSet.objects.get()
    assert where_from(made.body) == PERTH
    page = text_of(client.get(reverse("hire:site_set_detail", args=[made.pk])))
    assert "Perth time (Australia/Perth)" in page
    page = text_of(client.get(reverse("hire:site_set_change", args=[made.pk])))
    assert 'value="Australia/Perth"' in page
    assert '<option value="WA" selected>' in page
    rows = saved(client, reverse("hire:site_set_list", args=[customer.pk]))
    assert [(row["What"], row["Which"]) for row in rows][:1] == [
        ("Time zone", "Perth time (Australia/Perth)")
    ]


def test_the_form_of_a_hire_left_blank_takes_it_over_and_typed_does_not(client, desk):
    customer, start = pit_set().customer, timezone.localtime() + 400 * DAY
    client.force_login(desk)
    page = text_of(client.get(reverse("hire:line_add")))
    assert "as the set of its site says" in page
    for number, (typed, zone) in enumerate(
        [
            ({}, "Australia/Perth"),
            ({"time_zone": "Australia/Sydney", "holiday_region": "NSW"}, "Australia/Sydney"),
        ]
    ):
        answer = client.post(
            reverse("hire:line_add"),
            {
                "customer": customer.pk, "cart": CartFactory().pk, "place_of_work": PIT, "leaves_by": "float", "works_on": "site",
                "pre_start_book": "ours", "water": "any", "starts_at": f"{start:%Y-%m-%d}T05:30",
                "ends_at": f"{start + 5 * DAY:%Y-%m-%d}T16:00", "time_zone": "", "holiday_region": "", "rule_set": "",
            }
            | typed,
        )  # fmt: skip
        assert answer.status_code == 302, number
        assert Agreement.objects.latest("number").time_zone == zone
