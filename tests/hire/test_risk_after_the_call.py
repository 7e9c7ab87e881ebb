"""Damage is the hirer's until pick-up, or some hours after the off-hire call: told at the call, asked before it is charged."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from hire.actions import back as acts
from hire.actions import money
from hire.back_decisions import decidables
from hire.back_record import read_record
from hire.charging.back import Typed
from hire.models.back import BackDecision
from hire.models.off_hire import OffHire
from hire.money_forms import AgreeForm
from hire.risk import answers_words
from hire.terms_text import body_of
from hire.terms_words import terms_words
from people.journal.models import Entry
from people.yard import yard_policy
from tests.factories.back import back_line
from tests.factories.fleet import DefectFactory
from tests.factories.hire import CustomerLinkFactory, LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory
from tests.pages import text_of
from tests.reference.test_charges import tables

pytestmark = pytest.mark.django_db
[ROWS] = tables("Damage after the off-hire call")
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
TOKEN = "token-of-aoife-000000000000000"


def local(cell):
    return datetime.fromisoformat(cell).replace(tzinfo=yard_policy().zone) if cell[:1].isdigit() else None


@pytest.mark.parametrize("row", ROWS, ids=" ".join)
def test_the_worked_table(row):
    called, left, back, told = map(local, (row[0], row[2], row[3], row[4]))
    line = LineFactory(starts_at=called - DAY, out_at=called - DAY, came_back_at=back)
    AgreedTermsFactory(line=line, body=BODY | {"risk_hours": row[1]}, agreed_at=called - 2 * DAY)
    OffHireFactory(line=line, called_at=called, left_site_at=left)
    DefectFactory(cart=line.cart, station="rear", place="", grade="watch", told_at=told)
    [found] = decidables(read_record(line))
    assert ("asked" if found.late else "not asked") == row[6]
    if found.late:
        assert found.late.ends_at == local(row[5])


@pytest.fixture
def found(db):
    """A cart that left the site 49 hours after the call, with a dent told before then and one found in the yard: the hire, and the
    key of the second."""
    at = timezone.now()
    line, _ = back_line(at=at)
    AgreedTermsFactory(line=line, body=BODY | {"risk_hours": "48"}, agreed_at=at - 9 * DAY)
    OffHireFactory(line=line, called_at=at - DAY - 50 * HOUR, left_site_at=at - DAY - HOUR)
    dent = DefectFactory(
        cart=line.cart, title="Side board bent", station="rear", place="", grade="by_date", told_at=at - DAY
    )
    return line, f"defect-{dent.pk}"


def charge(found, desk, came_before):
    line, key = found
    return acts.charge_found(
        line=line, key=key, typed=Typed(amount=Decimal(240)), words="New board", came_before=came_before, by=desk,
        at=timezone.now(),
    )  # fmt: skip


def test_it_is_charged_only_once_a_person_says_that_it_came_before(found, desk):
    with pytest.raises(
        acts.CameBeforeFirst, match=r"It left the site .* 48 h after .*tick that it did"
    ) as no:
        charge(found, desk, None)
    assert no.value.field == "came_before"
    with pytest.raises(acts.CameBeforeFirst, match="Say by what you tell") as no:
        charge(found, desk, " ")
    assert no.value.field == "came_before_words"
    kept = charge(found, desk, "Photo of Monday morning")
    call = OffHire.objects.get()
    assert (kept.came_before, kept.came_before_words) == (
        call.called_at + 48 * HOUR,
        "Photo of Monday morning",
    )
    assert kept.decided_by == desk
    assert "while damage was the hirer’s: Photo of Monday morning." in kept.working
    assert "Photo of Monday morning" in Entry.objects.filter(event="hire.found.charged").first().text


def test_nothing_is_asked_or_kept_where_it_left_in_time(found, desk):
    OffHire.objects.update(left_site_at=OffHire.objects.get().called_at + 48 * HOUR)
    with pytest.raises(acts.ReasonWanted, match="still the hirer’s: choose another reason"):
        acts.let_go_found(line=found[0], key=found[1], reason="after", by=desk, at=timezone.now())
    kept = charge(found, desk, "Photo")
    assert (kept.came_before, kept.came_before_words) == (None, "")


def test_it_may_be_let_go_for_coming_after(found, desk):
    gone = acts.let_go_found(line=found[0], key=found[1], reason="after", by=desk, at=timezone.now())
    assert gone.get_reason_display() == "It came after damage was no longer theirs"


def test_the_page_says_so_and_asks(found, desk, client):
    line, key = found
    client.force_login(desk)
    both = reverse("hire:out_and_back", args=[line.pk])
    assert "It is charged only if it came before then." in text_of(client.get(both))
    address = reverse("hire:back_decide", args=[line.pk, key])
    page = client.get(address)
    assert "damage was no longer the hirer’s from" in text_of(page)
    assert "after" in dict(page.context["letting_go"].fields["reason"].choices)
    typed = {"outcome": "charged", "amount": "240", "words": "New board"}
    refused = client.post(address, typed)
    assert refused.status_code == 422
    assert "Charge this only if it came before then" in str(refused.context["form"].errors["came_before"])
    refused = client.post(address, typed | {"came_before": "on"})
    assert "came_before_words" in refused.context["form"].errors
    done = client.post(
        address, typed | {"came_before": "on", "came_before_words": "Isla saw it on site"}, follow=True
    )
    assert "is charged: 240.00." in text_of(done)
    assert ": Isla saw it on site" in text_of(client.get(both))


def test_the_database_keeps_no_half_of_it(found, desk):
    kept = charge(found, desk, "Photo")
    facts = {field.attname: getattr(kept, field.attname) for field in BackDecision._meta.concrete_fields[1:]}
    for changed in ({"came_before_words": ""}, {"came_before": None}):
        with pytest.raises(IntegrityError, match="came_before_in_words"), transaction.atomic():
            BackDecision.objects.create(**facts | {"thing": "x"} | changed)


def test_reading_costs_the_same_however_much_was_found(found):
    with CaptureQueriesContext(connection) as few:
        assert [one.late is not None for one in decidables(read_record(found[0]))] == [False, True]
    for n in range(20):
        DefectFactory(cart=found[0].cart, grade="watch", station="rear", told_at=timezone.now() - n * HOUR)
    with CaptureQueriesContext(connection) as many:
        assert sum(one.late is not None for one in decidables(read_record(found[0]))) == 21
    assert len(many) == len(few)


@pytest.mark.parametrize(
    ("risk_hours", "words"),
    [
        (48, "is the hirer’s until it is picked up, at the latest 48 hours after the call"),
        (1, "is the hirer’s until it is picked up, at the latest 1 hour after the call"),
        (None, "is the hirer’s until it is picked up"),
    ],
)
def test_the_terms_say_it_and_the_docket_prints_it(desk, risk_hours, words):
    at = timezone.now()
    typed = {"rates": {1: Decimal(290)}, "days_in_week": 7, "tax_pct": 10, "risk_hours": risk_hours}
    body = BODY | {"risk_hours": body_of(typed)["risk_hours"]}
    assert dict(terms_words(body, rule="best rate"))["Damage after the off-hire call"] == words
    assert "Damage after the off-hire call" not in dict(terms_words(BODY, rule="best rate"))
    line = LineFactory(starts_at=at - 3 * DAY, out_at=at - 3 * DAY, came_back_at=at - DAY)
    AgreedTermsFactory(line=line, body=body, agreed_at=at - 3 * DAY)
    docket = money.make_docket(line=line, by=desk, at=at)
    assert ["Damage after the off-hire call", words] in docket.body["cover"]


def test_the_form_takes_whole_hours_from_one_up():
    form = AgreeForm({"risk_hours": "0"})
    assert "risk_hours" in form.errors
    assert "risk_hours" not in AgreeForm({"risk_hours": ""}).errors
    assert "risk_hours" in [
        name.name for title, names in form.groups() for name in names if title == "Damage"
    ]


def called_off(risk_hours, **changed):
    """Called off on Sunday 29 November at 10.21 am by the yard's clock."""
    called = local("2026-11-29 10:21")
    line = LineFactory(starts_at=called - DAY, out_at=called - DAY, came_back_at=changed.pop("back_at", None))
    said = {} if risk_hours is None else {"risk_hours": risk_hours}
    AgreedTermsFactory(line=line, body=BODY | said, agreed_at=called - 2 * DAY)
    return OffHireFactory(line=line, called_at=called, **changed)


ON, AFTER = local("2026-12-01 10:21"), local("2026-12-01 11:21")


@pytest.mark.parametrize(
    ("risk_hours", "changed", "at", "words"),
    [
        ("48", {}, ON, "You answer for it until it is picked up, at the latest Tue 1 Dec 10.21 am."),
        ("48", {}, AFTER, "You answered for it until Tue 1 Dec 10.21 am, 48 h after the call."),
        ("48", {"left_site_at": ON}, AFTER, "You answered for it until it was picked up, Tue 1 Dec 10.21 am."),
        ("48", {"left_site_at": AFTER}, AFTER, "You answered for it until Tue 1 Dec 10.21 am, 48 h after the call."),
        ("48", {"back_at": ON - HOUR}, AFTER, "You answered for it until it was back in the yard, Tue 1 Dec 9.21 am."),
        ("", {}, AFTER, "You answer for it until it is picked up."),
        (None, {}, AFTER, ""),
    ],
)  # fmt: skip
def test_the_call_says_until_when_they_answer_for_it(risk_hours, changed, at, words):
    assert answers_words(called_off(risk_hours, **changed), at=at, to_customer=True) == words


def test_the_desk_and_the_customers_page_confirm_it(desk, client):
    now = timezone.now()
    line = LineFactory(starts_at=now - 3 * DAY, ends_at=now + 4 * DAY, out_at=now - 3 * DAY)
    AgreedTermsFactory(line=line, body=BODY | {"risk_hours": "48"}, agreed_at=now - 3 * DAY)
    CustomerLinkFactory(line=line, token=TOKEN, made_at=now)
    client.post(
        reverse("hire:link_off_hire", args=[TOKEN]),
        {"pick_up_words": "North gate", "keys_words": "Site office"},
    )
    risk = "The customer, until it is picked up, at the latest 48 hours after the call"
    assert OffHire.objects.get().risk_words == risk
    page = text_of(client.get(reverse("hire:customer_page", args=[TOKEN])))
    assert "You answer for it until it is picked up, at the latest " in page
    client.force_login(desk)
    page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "The customer answers for it until it is picked up, at the latest " in page
    OffHire.objects.all().delete()
    form = client.get(reverse("hire:off_hire_call", args=[line.pk])).context["form"]
    assert form["risk_words"].value() == risk
