"""Loads put down by a tap on the customer's link and by the yard, taken back by a row of their own, counted day by day."""

import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions.locks import constraint_of
from fleet.models.carts import Fitment
from fleet.road_fill import road_fill
from hire import load_page
from hire.actions import loads as actions
from hire.actions.off_hire import NotOnHire
from hire.actions.site import HireOver
from hire.models.loads import Load, LoadUndone
from people.journal.models import Entry
from people.roles import Role
from people.yard import yard_day
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, CustomerLinkFactory, JobPlanFactory, LineFactory, LoadFactory
from tests.factories.spraying import SpraySheetFactory
from tests.factories.water import WaterCarriedFactory
from tests.factories.weights import TankMeasuredFactory, weighable_cart
from tests.pages import queries_of, saved, text_of, typed_moment

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
TOKEN = "token-of-the-loads-000000000000001"


@pytest.fixture
def out():
    """A hire that is out now, whose tank holds 12,000 L, with its link."""
    now = timezone.now()
    line = LineFactory(
        cart=CartFactory(tank_capacity_l=12_000), starts_at=now - 3 * DAY, out_at=now - 3 * DAY
    )
    CustomerLinkFactory(
        line=line, token=TOKEN, for_words="Col", made_at=now - 3 * DAY, expires_at=now + 9 * DAY
    )
    return line


def tap(client, **changed):
    said = {
        "load_id": str(uuid.uuid4()),
        "fill_point": "Weir Street",
        "litres": "12000",
        "source": "potable",
    } | changed
    return client.post(reverse("hire:link_loads", args=[TOKEN]), said)


def page(client):
    return text_of(client.get(reverse("hire:link_loads", args=[TOKEN])))


def record(line, *, by, at, **changed):
    said = {
        "load_id": uuid.uuid4(),
        "fill_point": "Dam",
        "litres": 9000,
        "source": "dam",
        "taken_at": at,
    } | changed
    return actions.record_load(line=line, teller=actions.Teller(by=by), at=at, **said)


def test_a_tap_is_a_load_and_the_next_tap_is_offered(out, client):
    assert "First load" in page(client)
    assert tap(client).status_code == 302
    assert "<b>1</b> load today, <b>12,000 L</b>" in page(client)
    assert "Load from Weir Street, 12,000 L" in page(client)
    [load] = Load.objects.all()
    assert load.by_words.startswith("Col, ")
    assert Entry.objects.filter(event="hire.load.taken").count() == 1


def test_a_tap_sent_twice_is_one_load(out, client):
    same = str(uuid.uuid4())
    assert [tap(client, load_id=same).status_code for _ in range(2)] == [302, 302]
    assert Load.objects.count() == 1
    assert Entry.objects.filter(event="hire.load.taken").count() == 1


def test_a_load_taken_back_stays_and_counts_for_nothing(out, client):
    tap(client)
    [load] = Load.objects.all()
    address = reverse("hire:link_load_undo", args=[TOKEN, load.pk])
    assert [client.post(address).status_code for _ in range(2)] == [302, 302]
    assert LoadUndone.objects.count() == 1
    assert "<b>0</b> loads today, <b>0 L</b>" in page(client)
    assert "<s>12,000 L from Weir Street</s>" in page(client)
    assert Entry.objects.filter(event="hire.load.undone").count() == 1


def test_the_link_takes_back_its_own_and_only_for_a_day(out, client):
    other = LoadFactory(line=LineFactory(out_at=timezone.now() - DAY, cart=CartFactory()))
    assert client.post(reverse("hire:link_load_undo", args=[TOKEN, other.pk])).status_code == 404
    old = LoadFactory(line=out, taken_at=timezone.now() - 2 * DAY)
    answer = client.post(reverse("hire:link_load_undo", args=[TOKEN, old.pk]))
    assert answer.status_code == 422
    assert "put down over a day ago" in text_of(answer)
    assert not LoadUndone.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"litres": "0"}, "Above zero."),
        ({"litres": "-5"}, "Above zero."),
        ({"litres": "12001"}, "holds 12,000 L. Give litres above zero, up to that."),
        ({"fill_point": " "}, "Not filled in yet."),
        ({"source": ""}, "Choose one."),
        ({"fill_point": "Callabar dam"}, "does not sound like potable water"),
        ({"load_id": "x"}, "Enter a valid UUID"),
    ],
)
def test_what_cannot_be_comes_back_in_a_sentence(out, client, wrong, sentence):
    answer = tap(client, **wrong)
    assert answer.status_code == 422
    if "load_id" not in wrong:
        assert sentence in text_of(answer)
    assert not Load.objects.exists()


def test_no_load_before_the_handover_after_the_return_or_to_come(people, out):
    at, hand = timezone.now(), people[Role.YARD_HAND]
    with pytest.raises(NotOnHire):
        record(LineFactory(cart=CartFactory()), by=hand, at=at)
    with pytest.raises(actions.LoadNotThen):
        record(out, by=hand, at=at, taken_at=at + HOUR)
    with pytest.raises(actions.LoadNotThen):
        record(out, by=hand, at=at, taken_at=out.handed_over_at - HOUR)
    back = LineFactory(cart=CartFactory(), starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - DAY)
    with pytest.raises(HireOver):
        record(back, by=hand, at=at)
    # A docket found late is put down for its day.
    assert record(back, by=hand, at=at, taken_at=at - 2 * DAY).litres == 9000


def test_a_phone_that_sends_and_sends_is_stopped(people, out, monkeypatch):
    monkeypatch.setattr(actions, "MOST_A_DAY", 2)
    at, hand = timezone.now(), people[Role.YARD_HAND]
    record(out, by=hand, at=at)
    record(out, by=hand, at=at)
    with pytest.raises(actions.TooManyLoads):
        record(out, by=hand, at=at)


@pytest.fixture
def on_site(out):
    out.agreement.works_on = "site"
    out.agreement.save()
    return out


def test_a_usual_load_on_site_is_what_the_pump_can_draw_of_the_full_tank(on_site, out, client):
    SpraySheetFactory(cart=out.cart, dead_l=250)
    assert 'value="11750"' in page(client)
    TankMeasuredFactory(cart=out.cart, dead_l=150)
    assert 'value="11850"' in page(client)
    assert "The full tank, less 150 L that the pump can’t draw." in page(client)


def test_on_public_roads_it_is_what_the_pump_can_draw_of_the_road_fill(client):
    now = timezone.now()
    line = LineFactory(cart=weighable_cart(), starts_at=now - DAY, out_at=now - DAY)
    fill = road_fill(line.cart, on=yard_day(now)).litres
    assert fill < line.cart.tank_capacity_l
    usual = load_page.usual(line, on=yard_day(now))
    assert usual.litres == fill - 150
    assert usual.words.startswith(f"Of its road fill, {fill:,} L, less 150 L that the pump can’t draw.")


def test_where_its_plan_goes_by_road_a_hire_on_site_has_its_road_fill_too():
    now = timezone.now()
    line = LineFactory(
        cart=weighable_cart(), starts_at=now - DAY, out_at=now - DAY, agreement__works_on="site"
    )
    full = load_page.usual(line, on=yard_day(now)).litres
    assert full == line.cart.tank_capacity_l - 150
    plan = JobPlanFactory(line=line)
    assert load_page.usual(line, on=yard_day(now)).litres == full
    JobPlanFactory(line=line, question=f"{plan.question}&by_road=on", planned_at=AT + DAY)
    assert load_page.usual(line, on=yard_day(now)).litres < full


def test_without_a_road_fill_nobody_is_offered_litres_for_a_public_road(out, client):
    assert load_page.usual(out, on=yard_day(timezone.now())).litres is None
    assert "Road fill: none on record." in page(client)
    assert tap(client, litres="").status_code == 422


def test_a_tap_again_is_of_the_same_water_and_licence(out, client):
    tap(client, fill_point="Callabar dam", source="dam", permit_words="WL-881")
    shown = page(client)
    assert "Dam water, WL-881" in shown
    assert '<input type="hidden" name="source" value="dam">' in shown
    assert '<input type="hidden" name="permit_words" value="WL-881">' in shown
    # Nobody taps again what nobody said the water of.
    LoadFactory(line=out, fill_point="Old place", source="", taken_at=timezone.now(), told_at=timezone.now())
    assert "Load from Old place" not in page(client)


def test_water_that_stood_in_the_tank_of_a_potable_hire_is_said(out, client):
    out.agreement.water = "potable"
    out.agreement.save()
    now, words = timezone.now(), "let it out, flush the tank and fill it fresh"
    old = LoadFactory(line=out, taken_at=now - 3 * DAY + HOUR, told_at=now)
    Fitment.objects.create(cart=out.cart, kind="potable_tank", fitted_on=yard_day(now) - 90 * DAY)
    assert words not in page(client)
    LoadUndone.objects.create(load=old, undone_at=now, by=old.by, by_words="Dot")
    WaterCarriedFactory(cart=out.cart, filled_at=now - 3 * DAY)
    assert "3 days ago, as far as is on record" in page(client)
    assert words in page(client)
    tap(client)
    assert words not in page(client)


def test_the_yard_sees_every_day_and_saves_both_tables(out, client, people):
    client.force_login(people[Role.HIRE_DESK])
    now = timezone.now()
    for back, litres in ((0, 12000), (0, 8000), (1, 5000)):
        LoadFactory(line=out, taken_at=now - back * DAY, told_at=now, litres=litres)
    LoadUndone.objects.create(
        load=LoadFactory(line=out, taken_at=now, told_at=now), undone_at=now, by=people[Role.HIRE_DESK], by_words="Dot"
    )  # fmt: skip
    address = reverse("hire:line_loads", args=[out.pk])
    today = yard_day(now)
    days = saved(client, address, table="days")
    assert days[0] == {"Day": today.isoformat(), "Loads": "2", "Litres": "20000"}
    rows = saved(client, address, table="loads")
    assert len(rows) == 4
    assert [row["Taken back by"] for row in rows if row["Taken back"]] == ["Dot"]
    detail = text_of(client.get(reverse("hire:line_detail", args=[out.pk])))
    assert "2 loads, 20,000 L" in detail
    typed = {
        "load_id": str(uuid.uuid4()),
        "fill_point": "Dam",
        "litres": "7000",
        "source": "dam",
        "taken_at": typed_moment(now - DAY),
    }
    answer = client.post(address, typed, follow=True)
    assert "7,000 L from Dam is down" in text_of(answer)


def test_the_yards_page_asks_the_same_for_three_and_thirty(out, client, people):
    client.force_login(people[Role.HIRE_DESK])
    address, now = reverse("hire:line_loads", args=[out.pk]), timezone.now()
    for n in range(3):
        LoadFactory(line=out, taken_at=now - timedelta(minutes=n + 1), told_at=now)
    few = queries_of(client, address)
    for n in range(27):
        LoadFactory(line=out, taken_at=now - timedelta(minutes=n + 9), told_at=now)
    assert queries_of(client, address) == few


def of_nobody(load):
    LoadUndone.objects.create(load=load, undone_at=load.told_at, by_words="Nobody")


@pytest.mark.parametrize(
    ("name", "break_it"),
    [
        ("hire_load_somewhere", lambda: LoadFactory(litres=0)),
        ("hire_load_somewhere", lambda: LoadFactory(fill_point="")),
        ("hire_load_has_happened", lambda: LoadFactory(told_at=AT)),
        ("hire_load_told_by_one", lambda: LoadFactory(by=None)),
        ("hire_load_water_known", lambda: LoadFactory(source="wine")),
        ("hire_loadundone_by_one", lambda: of_nobody(LoadFactory())),
    ],
)
def test_the_database_refuses_it_by_name(name, break_it):
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        break_it()
    assert constraint_of(refused.value) == name
