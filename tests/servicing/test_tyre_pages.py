"""A tyre's page, the list of tyres, a tyre changed on screen, and the picture of its wear."""

import re
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.utils import timezone

from fleet import plot_look
from fleet.models.wheels import TyreFitting
from people.roles import WORKSHOP, Role
from servicing.models.tyres import TyreForecast
from servicing.models.wheels import Retorque
from servicing.tread import TreadPrior
from servicing.tyre_forecasts import make_tyre_forecasts
from servicing.tyre_plot import WearPicture, draw
from tests.factories.fleet import CartFactory, TyreFittingFactory
from tests.factories.servicing import worn_steadily
from tests.pages import queries_of, text_of, today, typed_moment

pytestmark = pytest.mark.django_db
TOKENS = Path(__file__).parents[2] / "static" / "css" / "tokens.css"
DAY = timedelta(days=1)
PICTURE = WearPicture(
    readings=((1500.0, 15.6), (3000.0, 15.3), (4500.0, 14.9)), change_out_mm=3.0, legal_mm=1.5,
    prior=TreadPrior(0.25, 0.05), km_change_out=52_000.0, km_change_out_low=40_000.0, km_change_out_high=None,
)  # fmt: skip


def worn(cart=None, code="2LO", **kwargs):
    return worn_steadily(cart or CartFactory(), code, until=timezone.now(), **kwargs)


@pytest.mark.parametrize("role", list(Role))
def test_a_tyre_s_forecast_opens_to_its_working(people, sign_in, role):
    fitting = worn(cost=Decimal("640.00"))
    make_tyre_forecasts(at=timezone.now())
    client = sign_in(people[role])
    answer = client.get(f"/tyre-fittings/{fitting.pk}/")
    page, shown = text_of(answer), answer.context["forecast"]
    assert shown.figure.startswith("about ")
    facts = {fact[0]: fact[1] for fact in shown.inputs}
    assert facts["Depths read"] == "6"
    assert facts["Wear"].endswith("mm per 1,000 km")
    assert facts["The fleet’s wear"] == "not used"
    assert facts["The cart runs"] == "150 km a day"
    assert "9 in 10 such spreads hold the day" in page
    assert f'src="/tyre-fittings/{fitting.pk}/wear.svg"' in page
    assert "Depth over km, 6 readings. Last 13.8 mm at 30,000 km." in page
    assert "Cost per 1,000 km" in page
    assert ("Change this tyre" in page) == (role in WORKSHOP)


def test_what_cannot_be_said_is_said_so(people, sign_in):
    client = sign_in(people[Role.FITTER])
    new = TyreFittingFactory()
    assert "Not worked out yet" in text_of(client.get(f"/tyre-fittings/{new.pk}/"))
    unread, few = worn(is_km_read=False), worn(readings=2)
    make_tyre_forecasts(at=timezone.now())
    for fitting, words in (
        (new, "Nothing can be said before it is measured."),
        (unread, "odometer was not read about the time of the depths"),
        (few, "Three depths at different km are wanted"),
    ):
        assert words in text_of(client.get(f"/tyre-fittings/{fitting.pk}/"))
    assert client.get(f"/tyre-fittings/{unread.pk}/wear.svg").status_code == 404
    gone = TyreFittingFactory(taken_off_at=timezone.now() - DAY)
    page = text_of(client.get(f"/tyre-fittings/{gone.pk}/"))
    assert "By its wear" not in page
    assert "Change this tyre" not in page


def test_a_pair_that_is_not_alike_and_an_old_steer_tyre_are_told_on_the_page(people, sign_in):
    cart = CartFactory()
    outer = worn(cart, "2LO", make="Emu")
    worn(cart, "2LI")
    old = TyreFittingFactory(cart=cart, code="1L", tyre__made_on=today() - 3800 * DAY)
    make_tyre_forecasts(at=timezone.now())
    client = sign_in(people[Role.FITTER])
    assert "not of one make" in text_of(client.get(f"/tyre-fittings/{outer.pk}/"))
    assert "Over 10 years old on a steer axle" in text_of(client.get(f"/tyre-fittings/{old.pk}/"))


def test_tyres_stand_by_their_day_and_are_narrowed_in_the_address(people, sign_in):
    carts = [CartFactory(fleet_number=f"WC-{n}") for n in (41, 42)]
    late, soon, steer = worn(carts[0]), worn(carts[0], "2RO", wear=Decimal("1.0")), worn(carts[1], "1L")
    unknown = TyreFittingFactory(cart=carts[1], code="2LO")
    make_tyre_forecasts(at=timezone.now())
    TyreForecast.objects.filter(fitting=soon).update(on_change_out=today() + 14 * DAY)
    client = sign_in(people[Role.WORKSHOP_MANAGER])

    def shown(query=""):
        return [row.fitting for row in client.get(f"/workshop/tyres/{query}").context["rows"]]

    assert shown()[0] == soon
    assert shown()[-1] == unknown
    assert set(shown()) == {late, soon, steer, unknown}
    assert shown("?axle=steer") == [steer]
    assert set(shown("?axle=drive")) == {late, soon, unknown}
    assert shown("?within=14") == [soon]
    assert shown("?within=moon") == shown()
    assert set(shown("?cart=WC-42")) == {steer, unknown}
    assert "No tyre fits that." in text_of(client.get("/workshop/tyres/?cart=none"))
    page = text_of(client.get("/workshop/tyres/"))
    assert "4 tyres" in page
    assert "never measured" in page


def test_an_empty_list_says_what_to_do(people, sign_in):
    client = sign_in(people[Role.FITTER])
    assert "No tyre is on record." in text_of(client.get("/workshop/tyres/"))


def test_the_list_costs_as_much_for_fifty_as_for_three(people, sign_in):
    client = sign_in(people[Role.FITTER])
    CartFactory(layout="4x2", tyres="9.5")
    make_tyre_forecasts(at=timezone.now())
    few = queries_of(client, "/workshop/tyres/")
    for _ in range(9):
        CartFactory(layout="4x2", tyres="9.5")
    make_tyre_forecasts(at=timezone.now())
    assert queries_of(client, "/workshop/tyres/") == few


def posted(client, fitting, **changes):
    typed = {
        "changed_at": typed_moment(timezone.now()), "serial": "RW 00900", "make": "Wallaroo", "size": "11R22.5",
        "new_depth_mm": "18", "depth_mm": "17.6", "cost": "640.50", "words": "Worn",
    }  # fmt: skip
    return client.post(f"/tyre-fittings/{fitting.pk}/change/", typed | changes, follow=True)


def test_a_tyre_is_changed_in_one_form_and_its_nuts_come_next(people, sign_in):
    cart = CartFactory(fleet_number="WC-47")
    old = TyreFittingFactory(cart=cart, code="2LO", tyre__serial="RW 00001")
    TyreFittingFactory(cart=cart, code="2LI", tyre__make="Emu")
    client = sign_in(people[Role.FITTER])
    form = text_of(client.get(f"/tyre-fittings/{old.pk}/change/"))
    assert "Tyre RW 00001 comes off in the same act." in form
    # What the wall says is read off the wall: the old tyre's words do not stand there already.
    assert '11R22.5"' not in form
    answer = posted(client, old)
    page = text_of(answer)
    assert answer.redirect_chain[-1][0] == f"/workshop/retorques/{Retorque.objects.get().pk}/"
    assert "Tyre RW 00900 is at axle 2 left outer of cart WC-47; RW 00001 is off." in page
    assert "The two are not of one make" in page
    assert TyreFitting.objects.get(tyre__serial="RW 00900").period.upper is None


def test_a_depth_no_new_tyre_has_is_refused_in_a_clear_sentence(people, sign_in):
    old = TyreFittingFactory(code="2LO")
    answer = posted(sign_in(people[Role.FITTER]), old, depth_mm="30")
    assert answer.status_code == 422
    page = text_of(answer)
    assert "30.0 mm was read, but this tyre had 18.0 mm when new." in page
    assert 'value="RW 00900"' in page
    old.refresh_from_db()
    assert old.period.upper is None


def test_the_picture_is_the_same_bytes_each_time_and_dateless():
    first = draw(PICTURE)
    assert first == draw(PICTURE)
    assert first.startswith(b"<?xml")
    assert b"<dc:date>" not in first
    assert draw(WearPicture(**vars_of(PICTURE) | {"legal_mm": 1.0})) != first


def vars_of(picture):
    return {name: getattr(picture, name) for name in picture.__dataclass_fields__}


@pytest.mark.parametrize(
    "changes",
    [
        {"readings": ((5000.0, 12.0),), "prior": None, "km_change_out": None, "km_change_out_low": None},
        {"readings": ((5000.0, 12.0), (5000.0, 12.0)), "km_change_out": 1e9, "km_change_out_high": 1e12},
        {"readings": ((-5000.0, 2.0), (10.0, 2.2), (500.0, 0.0)), "km_change_out": -9000.0},
    ],
)
def test_odd_tyres_are_drawn_too(changes):
    assert b"</svg>" in draw(WearPicture(**vars_of(PICTURE) | changes))


def test_the_picture_wears_the_look_s_own_colours():
    sun = TOKENS.read_text(encoding="utf-8").split('[data-look="night"]')[0]
    tokens = dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6});", sun))
    for name, token in (
        ("PAPER", "paper"), ("INK", "ink"), ("INK_2", "ink-2"), ("LINE", "line"), ("WORKING", "working"), ("WASH", "working-wash"),
        ("STOP", "stop"), ("CAUTION", "caution"),
    ):  # fmt: skip
        assert getattr(plot_look, name) == tokens[token]


def test_the_picture_is_served_once_and_asked_about_after(people, sign_in):
    fitting = worn()
    client = sign_in(people[Role.YARD_HAND])
    answer = client.get(f"/tyre-fittings/{fitting.pk}/wear.svg")
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/svg+xml")
    assert answer["Cache-Control"] == "private, no-cache"
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"
    again = client.get(f"/tyre-fittings/{fitting.pk}/wear.svg", headers={"If-None-Match": answer["ETag"]})
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", answer["ETag"])
    fitting.tread_readings.order_by("read_at").first().delete()
    fresh = client.get(f"/tyre-fittings/{fitting.pk}/wear.svg", headers={"If-None-Match": answer["ETag"]})
    assert (fresh.status_code, fresh["ETag"] != answer["ETag"]) == (200, True)
