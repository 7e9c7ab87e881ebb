"""Several things found of one event: the damage waiver's excess is paid once by all of them, as the desk says."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from hire.actions import back as acts
from hire.actions import money
from hire.charging.back import Typed
from hire.models.back import BackDecision
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from tests.factories.back import back_line
from tests.factories.fleet import DefectFactory
from tests.factories.money import BODY, AgreedTermsFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db
WAIVER = {"cover": "waiver", "waiver_day": "12", "excess": "2500"}


@pytest.fixture
def rolled(db):
    """A cart that rolled over and is back, on a hire with an excess of 2,500: its line and the keys of three things found."""
    now = timezone.now()
    line, dent = back_line(at=now)
    others = [
        DefectFactory(
            cart=line.cart, title=title, station="rear", place="", grade="by_date", told_at=dent.told_at
        )
        for title in ("Ladder torn off", "Lid sprung")
    ]
    AgreedTermsFactory(line=line, body=BODY | WAIVER, agreed_at=now - timedelta(days=1))
    return line, [f"defect-{one.pk}" for one in (dent, *others)]


def charge(line, key, desk, amount, **more):
    typed = Typed(amount=Decimal(amount), is_waived=more.pop("is_waived", True))
    return acts.charge_found(
        line=line, key=key, typed=typed, words="Rolled over", by=desk, at=timezone.now(), **more
    )


def charged_beside(line, desk):
    docket = money.make_docket(line=line, by=desk, at=timezone.now())
    return [Decimal(one["amount"]) for one in docket.body["lines"] if one["key"].startswith("beside")]


def test_three_things_of_one_event_pay_one_excess(rolled, desk):
    line, (dent, ladder, lid) = rolled
    first = charge(line, dent, desk, "1900")
    second = charge(line, ladder, desk, "800", same_event=first.pk)
    assert (second.amount, second.same_event) == (600, first)
    assert (
        "800.00, of the same event as Damage, rear: of its excess of 2,500.00, 1,900.00 is charged besides, so 600.00 is left, and "
        "the damage waiver takes on 200.00."
    ) in second.working
    with pytest.raises(
        acts.NotCharged, match=r"excess of 2,500\.00 is charged already with Damage, rear"
    ) as no:
        charge(line, lid, desk, "400", same_event=second.pk)
    assert no.value.field == "same_event"
    gone = acts.let_go_found(
        line=line, key=lid, reason="waiver", same_event=second.pk, by=desk, at=timezone.now()
    )
    assert (gone.same_event, gone.amount) == (first, None)
    assert charged_beside(line, desk) == [1900, 600]
    texts = Entry.objects.filter(event="hire.found.charged", chain="yard").values_list("text", flat=True)
    assert ["same_event" in text for text in texts.order_by("position")] == [False, True]
    assert list(faults_in_journal()) == []


def test_things_of_two_events_pay_two(rolled, desk):
    line, (dent, ladder, _) = rolled
    charge(line, dent, desk, "3100")
    charge(line, ladder, desk, "3100")
    assert charged_beside(line, desk) == [2500, 2500]


def test_the_waiver_lets_nothing_go_while_some_of_the_excess_is_left(rolled, desk):
    line, (dent, ladder, _) = rolled
    first = charge(line, dent, desk, "2499.99")
    with pytest.raises(acts.ExcessFirst):
        acts.let_go_found(
            line=line, key=ladder, reason="waiver", same_event=first.pk, by=desk, at=timezone.now()
        )


def test_what_is_struck_out_pays_no_excess(rolled, desk):
    line, (dent, ladder, lid) = rolled
    first = charge(line, dent, desk, "1900")
    second = charge(line, ladder, desk, "400", same_event=first.pk)
    money.strike_beside(beside=first.beside, why="Ours", by=desk, at=timezone.now())
    with pytest.raises(acts.NotThatEvent):
        charge(line, lid, desk, "3000", same_event=first.pk)
    third = charge(line, lid, desk, "3000", same_event=second.pk)
    assert (third.amount, third.same_event) == (2100, first)


def test_what_the_waiver_leaves_out_is_of_no_event(rolled, desk):
    line, (dent, ladder, lid) = rolled
    whole = charge(line, dent, desk, "3100", is_waived=False)
    assert (whole.is_waived, whole.amount) == (False, 3100)
    for same_event in (whole.pk, uuid4()):
        with pytest.raises(acts.NotThatEvent):
            charge(line, ladder, desk, "100", same_event=same_event)
    first = charge(line, ladder, desk, "2500")
    left_out = charge(line, lid, desk, "700", is_waived=False, same_event=first.pk)
    assert (left_out.amount, left_out.same_event) == (700, None)


def test_the_desk_chooses_the_event_on_the_page(rolled, desk, client):
    line, (dent, ladder, lid) = rolled
    client.force_login(desk)
    address = {key: reverse("hire:back_decide", args=[line.pk, key]) for key in (dent, ladder, lid)}
    assert "same_event" not in client.get(address[dent]).context["charging"].fields
    first = charge(line, dent, desk, "1900")
    page = client.get(address[ladder])
    assert "Damage, rear: 1,900.00" in text_of(page)
    assert "same_event" not in page.context["letting_go"].fields
    typed = {"outcome": "charged", "amount": "800", "words": "Rolled over", "is_waived": "on"}
    said = text_of(client.post(address[ladder], typed | {"same_event": str(first.pk)}, follow=True))
    assert "is charged: 600.00." in said
    assert "Of the same event as Damage, rear." in said
    assert client.post(address[lid], typed | {"same_event": str(first.pk)}).status_code == 422
    assert client.post(address[lid], {"outcome": "let_go", "reason": "waiver"}).status_code == 422
    client.post(address[lid], {"outcome": "let_go", "reason": "waiver", "same_event": str(first.pk)})
    assert BackDecision.objects.get(outcome="let_go").same_event == first


def test_the_page_asks_as_much_for_many(rolled, desk, client):
    line, (dent, ladder, lid) = rolled
    client.force_login(desk)

    def queries():
        with CaptureQueriesContext(connection) as found:
            assert client.get(reverse("hire:back_decide", args=[line.pk, lid])).status_code == 200
        return len(found)

    first = charge(line, dent, desk, "100")
    few = queries()
    charge(line, ladder, desk, "100", same_event=first.pk)
    assert queries() == few
