"""The one button of a cart's row, and where each finding is dealt with, by who looks."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.addresses import known_record_url, walk_url
from fleet.models.carts import Cart
from fleet.readiness import Blocker, Caution, Readiness, Record, Window
from fleet.screens import Way, next_step, way_to
from people.models import Staff
from people.roles import MANAGERS, WALKERS, Role

CART = Cart(fleet_number="WC-47")
RECORD_ID = uuid.UUID(int=5)


def person(role):
    return Staff(username="a", full_name="A", role=role)


def stop(code, kind="cart", record_id=None):
    return Blocker(code, "Stops.", Record(kind, record_id or CART.pk), MANAGERS, "Somebody")


def wants(code, at):
    return Caution(code, "Wanted.", Record("cart", CART.pk), at, "a check")


def answer(at, *, blockers=(), cautions=()):
    return Readiness(CART.pk, Window(at, at + timedelta(days=1)), at, blockers=blockers, cautions=cautions)


PAGE = reverse("fleet:cart_detail", args=[CART.pk])


@pytest.mark.parametrize(
    ("finding", "way"),
    [
        pytest.param(
            stop("defect.do_not_use", "defect", RECORD_ID),
            Way("Open the defect", reverse("servicing:defect_detail", args=[RECORD_ID])),
            id="a defect has its page",
        ),
        pytest.param(
            stop("hire.overlap", "hire_line", RECORD_ID),
            Way("Open the hire", reverse("hire:line_detail", args=[RECORD_ID])),
            id="a hire has its page",
        ),
        pytest.param(
            stop("hold.manual"), Way("Show it", f"{PAGE}#holds"), id="a hold stands on the cart's page"
        ),
        pytest.param(stop("document.insurance"), Way("Show it", f"{PAGE}#papers"), id="so does a paper"),
        pytest.param(
            stop("extinguisher.missing"), Way("Show it", f"{PAGE}#extinguishers"), id="and an extinguisher"
        ),
        pytest.param(stop("hire.could_not_be_checked"), Way("", ""), id="what failed has no page"),
        pytest.param(stop("x.y", "unheard_of", RECORD_ID), Way("", ""), id="nor has a kind nobody told of"),
    ],
)
def test_where_a_finding_is_dealt_with(finding, way):
    assert way_to(CART, finding, person(Role.FLEET_MANAGER)) == way


@pytest.mark.parametrize("role", sorted(Role))
def test_a_walk_is_done_by_who_walks_and_seen_by_the_rest(role):
    missing = stop("walk_round.pre_hire")
    signed = stop("walk_round.gate_out", "walk_round", RECORD_ID)
    if role in WALKERS:
        assert (
            way_to(CART, missing, person(role))
            == way_to(CART, signed, person(role))
            == Way("Walk it", walk_url(CART.pk))
        )
    else:
        assert way_to(CART, missing, person(role)) == Way("", "")
        assert way_to(CART, signed, person(role)).url == reverse(
            "inspections:walk_round_detail", args=[RECORD_ID]
        )


@pytest.mark.parametrize("role", sorted(Role))
def test_a_name_is_confirmed_on_the_walk_rounds_own_page(role):
    unconfirmed = stop("walk_round.name", "walk_round", RECORD_ID)
    page = reverse("inspections:walk_round_detail", args=[RECORD_ID])
    assert way_to(CART, unconfirmed, person(role)) == Way("Open the walk-round", page)


def test_a_row_leads_to_its_worst_stop_then_to_a_walk_that_is_wanted_then_to_the_page(at):
    fitter, desk = person(Role.FITTER), person(Role.HIRE_DESK)
    worst = stop("defect.do_not_use", "defect", RECORD_ID)
    walk, other = wants("walk_round.pre_hire", at), wants("tyre.wear", at)
    assert next_step(
        CART, answer(at, blockers=(worst, stop("hold.manual")), cautions=(walk,)), person=fitter
    ).label == ("Open the defect")
    assert next_step(CART, answer(at, cautions=(other, walk)), person=fitter).label == "Walk it"
    assert next_step(CART, answer(at, cautions=(other, walk)), person=desk) == Way("Open it", PAGE)
    assert next_step(CART, answer(at, blockers=(stop("hire.could_not_be_checked"),)), person=fitter) == Way(
        "Open it", PAGE
    )
    assert next_step(CART, answer(at), person=fitter) == Way("Open it", PAGE)


def test_a_record_without_a_page_has_no_address():
    assert known_record_url("cart", CART.pk) == PAGE
    assert known_record_url("unheard_of", RECORD_ID) == ""
