"""The tally on an operator's own phone, and the docket that begins with what was tapped."""

import uuid
from datetime import datetime, time, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions.operator_links import make_operator_link
from hire.load_page import of_shift
from hire.models.loads import Load, LoadUndone
from hire.views.daily import initial_of
from tests.factories.hire import CustomerLinkFactory, LoadFactory
from tests.factories.wet import ADELAIDE, OperatorFactory, wet_out
from tests.pages import text_of

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def turn(now):
    return wet_out(at=now, days=4)


@pytest.fixture
def token(turn, desk, now):
    return make_operator_link(operator=turn.operator, by=desk, at=now)[1]


def tally(token, line):
    return reverse("hire:operator_loads", args=[token, line.pk])


def typed(**changed):
    return {
        "load_id": str(uuid.uuid4()), "fill_point": "Callabar dam", "litres": "9000", "source": "dam", "permit_words": "WL-881"
    } | changed  # fmt: skip


def test_the_operator_taps_a_load_and_takes_it_back(client, turn, token):
    line = turn.line
    assert tally(token, line) in text_of(client.get(reverse("hire:operator_page", args=[token])))
    said = typed()
    assert [client.post(tally(token, line), said).status_code for _ in range(2)] == [302, 302]
    load = Load.objects.get()
    assert (load.link, load.by, load.operator_link.operator) == (None, None, turn.operator)
    assert load.by_words == f"{turn.operator}, by the operator’s link"
    page = client.get(tally(token, line))
    assert (page["Referrer-Policy"], page["Cache-Control"]) == ("no-referrer", "no-store")
    assert "<b>1</b> load today, <b>9,000 L</b>" in text_of(page)
    assert "Load from Callabar dam, 9,000 L" in text_of(page)
    back = reverse("hire:operator_load_undo", args=[token, line.pk, load.pk])
    assert back in page.content.decode()
    assert client.post(back)["Location"] == tally(token, line)
    assert LoadUndone.objects.get().operator_link.operator == turn.operator
    assert client.post(tally(token, line), typed(source="")).status_code == 422


def test_what_is_older_than_a_day_is_the_yards_to_take_back(client, turn, token, now):
    old = LoadFactory(line=turn.line, taken_at=now - 2 * DAY)
    answer = client.post(reverse("hire:operator_load_undo", args=[token, turn.line.pk, old.pk]))
    assert answer.status_code == 422
    assert "put down over a day ago" in text_of(answer)
    assert not LoadUndone.objects.exists()


def test_no_other_operators_cart_and_no_customers_link_opens_it(client, turn, token, now):
    other = wet_out(at=now)
    theirs = LoadFactory(line=other.line, taken_at=now, told_at=now)
    assert client.get(tally(token, other.line)).status_code == 404
    assert client.post(tally(token, other.line), typed()).status_code == 404
    for line in (turn.line, other.line):
        address = reverse("hire:operator_load_undo", args=[token, line.pk, theirs.pk])
        assert client.post(address).status_code == 404
    CustomerLinkFactory(line=turn.line, token="customers-link-0000000000000000001")
    assert client.get(tally("customers-link-0000000000000000001", turn.line)).status_code == 404
    assert Load.objects.count() == 1


def test_the_docket_begins_with_the_days_taps_and_may_be_changed(client, turn, token, now):
    on = now.astimezone(ADELAIDE).date() - DAY
    noon = datetime.combine(on, time(12), ADELAIDE)
    for n, (point, source) in enumerate(
        (("Weir Street", "potable"), ("East dam", "dam"), ("Weir Street", "potable"))
    ):
        LoadFactory(line=turn.line, taken_at=noon + n * HOUR, told_at=now, fill_point=point, source=source)
    undone = LoadFactory(line=turn.line, taken_at=noon, told_at=now, fill_point="Slip", source="bore")
    LoadUndone.objects.create(load=undone, undone_at=now, by=undone.by, by_words="Dot")
    LoadFactory(line=turn.line, taken_at=noon - DAY, told_at=now, fill_point="The day before")
    address = reverse("hire:operator_daily_add", args=[token, turn.line.pk])
    page = client.get(f"{address}?on={on:%Y-%m-%d}")
    form = page.context["form"]
    assert [form[name].value() for name in ("on", "loads", "water_words", "water_source")] == [
        on, 3, "Weir Street, East dam", "dam",
    ]  # fmt: skip
    assert "As they were tapped" in text_of(page)
    said = {
        "operator": turn.operator.pk, "on": on.isoformat(), "start": "06:00", "finish": "14:00", "loads": "4",
        "water_words": "East dam", "water_source": "dam", "mode": "nobody", "nobody_why": "Gate shut",
    }  # fmt: skip
    assert client.post(address, said).status_code == 302
    docket = turn.line.daily_dockets.get()
    assert (docket.loads, docket.water_words, docket.water_source) == (4, "East dam", "dam")
    answer = client.post(address, said | {"water_source": "potable", "on": (on - DAY).isoformat()})
    assert answer.status_code == 422
    assert "do not sound like potable water" in text_of(answer)


def test_a_day_without_taps_begins_empty_and_a_day_nobody_can_read_is_today(rf, turn, now):
    found = initial_of(turn.line, rf.get("/?on=soon"), at=now)
    assert found["on"] == now.astimezone(ADELAIDE).date()
    assert "loads" not in found


@pytest.mark.parametrize(
    ("hour", "day_after", "shift"),
    [(5, 0, None), (6, 0, "day"), (17, 0, "day"), (18, 0, "night"), (5, 1, "night"), (6, 1, None)],
)
def test_of_two_shifts_each_has_its_own_taps(now, hour, day_after, shift):
    line = wet_out(at=now, days=4, agreement__shifts_a_day=2).line
    on = now.astimezone(ADELAIDE).date() - 2 * DAY
    taken = datetime.combine(on + day_after * DAY, time(hour), ADELAIDE)
    LoadFactory(line=line, taken_at=taken, told_at=now)
    has = [name for name in ("day", "night") if of_shift(line, on=on, is_night=name == "night")]
    assert has == ([shift] if shift else [])


def test_a_load_has_one_teller(turn, desk, now):
    link, _ = make_operator_link(operator=OperatorFactory(), by=desk, at=now)
    with pytest.raises(IntegrityError, match="hire_load_told_by_one"), transaction.atomic():
        LoadFactory(line=turn.line, operator_link=link)
