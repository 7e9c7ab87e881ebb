"""Published limits as docs/loading.md prints them (trade facts 6.1 to 6.3), and a cart's own tares from its tickets."""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from fleet.water.mass_limits import (
    TABLES,
    au_gross_kg,
    eu_four_axle_kg,
    least_limit,
    table_limit,
    tyres_kg,
    us_gross_lb,
    us_group_lb,
)
from fleet.water.weighbridge import Ticket, fit_tares
from tests.worked import tables

LIMITS, GROSS = tables("loading.md", "Published limits")
TICKETS = [
    Ticket(float(front), float(rear), float(water))
    for water, front, rear in tables("loading.md", "Weighbridge tickets")[0]
]


def test_the_page_prints_every_limit_with_its_row_and_tag():
    kept = [
        [
            rule_set,
            one.key,
            f"{one.value:g} {one.unit}" if one.unit == "t" else f"{one.value:.0f} lb",
            one.row,
            one.tag,
        ]
        for rule_set in ("au", "us", "eu")
        for one in TABLES[rule_set].values()
    ]
    assert kept == LIMITS
    assert TABLES["uk"] is TABLES["eu"]


@pytest.mark.parametrize(("key", "kg"), [("single", 9071.8), ("tandem", 15_422.1), ("gross", 36_287.4)])
def test_pounds_in_kg(key, kg):
    """AX-01 to AX-03, VERIFIED-P."""
    assert table_limit(rule_set="us", key=key).kg == pytest.approx(kg, abs=0.1)


@pytest.mark.parametrize("row", GROSS, ids=" ".join)
def test_a_rigids_groups_together(row):
    groups, tonnes, _ = row
    assert au_gross_kg(groups=tuple(groups.split(" + "))) == pytest.approx(float(tonnes) * 1000)


@pytest.mark.parametrize(
    ("spread_in", "axles", "lb"),
    [
        (0, 1, 20_000),
        (40, 2, 20_000),
        (41, 2, 34_000),
        (96, 2, 34_000),
        (108, 2, 39_000),
        (120, 2, 40_000),
        (144, 3, 45_000),
    ],
)
def test_the_caps_come_before_the_formula(spread_in, axles, lb):
    """AX-01, AX-02, then BF-02, BF-03 and BF-07; two single axles are never over 40,000."""
    assert us_group_lb(spread_in=spread_in, axles=axles) == lb
    assert us_group_lb(spread_in=200, axles=2) == 40_000


def test_gross_by_length():
    """BF-10, AX-03 and EU-03."""
    assert us_gross_lb(outer_length_ft=20, axles=3) == 51_000
    assert us_gross_lb(outer_length_ft=20.9, axles=3) == 51_000
    assert us_gross_lb(outer_length_ft=60, axles=5) == 80_000
    assert eu_four_axle_kg(outer_length_m=6) == 30_000
    assert eu_four_axle_kg(outer_length_m=6.5) == 32_000


@pytest.mark.parametrize(
    ("table", "maker", "tyres", "kg", "by", "unknown"),
    [
        (6000, 6500, 6300, 6000, "table", ()),
        (6000, 5900, 6300, 5900, "maker", ()),
        (16_500, 16_500, 15_200, 15_200, "tyres", ()),
        (6000, 6000, 6000, 6000, "table", ()),
        (6000, None, None, 6000, "table", ("maker", "tyres")),
        (None, 5900, 6300, 5900, "maker", ("table",)),
    ],
)
def test_the_least_governs(*, table, maker, tyres, kg, by, unknown):
    """GM-13, VERIFIED-P."""
    found = least_limit(table_kg=table, maker_kg=maker, tyres_kg=tyres)
    assert (found.kg, found.governed_by, found.unknown) == (kg, by, unknown)
    assert bool(found.caution) is bool(unknown)


def test_tyres_together():
    assert tyres_kg(load_kg_per_tyre=2725, tyres=8) == 21_800


def test_tickets_give_tares_and_tank():
    """By hand: the left-overs of docs/loading.md are balanced, so that the fit does not move."""
    found = fit_tares(TICKETS, front_position_m=0, rear_position_m=5)
    assert (found.front_tare_kg, found.rear_tare_kg, found.tank_centroid_m) == pytest.approx((5000, 5600, 4))
    assert [each.front_kg for each in found.residuals] == pytest.approx([20, -20, -20, 20])
    assert [each.rear_kg for each in found.residuals] == pytest.approx([0, 0, 0, 0], abs=1e-6)
    assert found.scatter_kg == pytest.approx(math.sqrt(1600 / 5))
    assert found.is_trusted
    assert "4 tickets" in found.trust
    assert "20 kg" in found.trust


def test_tickets_by_another_solver():
    chance = np.random.default_rng(7)
    tickets = [
        Ticket(5100 + 0.23 * m + e, 5500 + 0.77 * m + f, m)
        for m, e, f in zip(
            chance.uniform(0, 14_000, 9), chance.normal(0, 30, 9), chance.normal(0, 30, 9), strict=True
        )
    ]

    def left(guess):
        front, rear, share = guess
        return [
            part
            for each in tickets
            for part in (
                each.front_kg - front - share * each.water_l,
                each.rear_kg - rear - (1 - share) * each.water_l,
            )
        ]

    other = least_squares(
        left, [5000, 5000, 0.5], x_scale=[1000, 1000, 0.1], xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    found = fit_tares(tickets, front_position_m=1, rear_position_m=6)
    assert (found.front_tare_kg, found.rear_tare_kg, found.front_share) == pytest.approx(other.x, rel=1e-6)
    assert found.tank_centroid_m == pytest.approx(6 - 5 * other.x[2])
    assert math.sqrt(2 * other.cost / 15) == pytest.approx(found.scatter_kg)


def test_the_spread_holds_a_new_weighing_19_times_in_20():
    chance, held, tries = np.random.default_rng(11), 0, 600
    for _ in range(tries):
        noise = chance.normal(0, 40, (6, 2))
        loads = [0, 0, 5000, 5000, 10_000, 10_000]
        tickets = [
            Ticket(5000 + 0.2 * m + e, 5600 + 0.8 * m + f, m) for m, (e, f) in zip(loads, noise, strict=True)
        ]
        fit = fit_tares(tickets, front_position_m=0, rear_position_m=5)
        said = fit.front_tare_kg + fit.front_share * 8000
        held += abs(5000 + 0.2 * 8000 + chance.normal(0, 40) - said) <= fit.spread_kg(8000)[0]
    assert 0.92 <= held / tries <= 0.98


def test_the_spread_grows_beyond_the_tickets():
    found = fit_tares(TICKETS, front_position_m=0, rear_position_m=5)
    assert found.spread_kg(6000)[0] < found.spread_kg(12_000)[0] < found.spread_kg(30_000)[0]


@pytest.mark.parametrize(
    ("tickets", "words"),
    [
        (TICKETS[:2], "under 4 tickets"),
        (
            [Ticket(5000, 5600, 0), Ticket(5020, 5580, 50), Ticket(5000, 5620, 40), Ticket(5010, 5600, 20)],
            "differs by under",
        ),
        (
            [Ticket(5000 - m * 0.1, 5600 + m * 1.1, m) for m in (0, 4000, 8000, 12_000)],
            "beyond the axle groups",
        ),
    ],
)
def test_a_fit_not_to_rely_on_says_so(tickets, words):
    found = fit_tares(tickets, front_position_m=0, rear_position_m=5)
    assert not found.is_trusted
    assert words in found.trust


def fit(tickets, front=0.0, rear=5.0):
    return fit_tares(tickets, front_position_m=front, rear_position_m=rear)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: fit(TICKETS[:1]),
        lambda: fit([TICKETS[0], TICKETS[0]]),
        lambda: fit([TICKETS[0], Ticket(0, 5600, 100)]),
        lambda: fit([TICKETS[0], Ticket(5000, math.nan, 100)]),
        lambda: fit([TICKETS[0], Ticket(5000, 5600, -1)]),
        lambda: fit(TICKETS, front=5.0),
        least_limit,
        lambda: least_limit(table_kg=0),
        lambda: least_limit(table_kg=6000, maker_kg=math.nan),
        lambda: table_limit(rule_set="mars", key="steer"),
        lambda: table_limit(rule_set="au", key="wings"),
        lambda: tyres_kg(load_kg_per_tyre=2725, tyres=0),
        lambda: au_gross_kg(groups=()),
        lambda: us_group_lb(spread_in=0, axles=2),
        lambda: us_group_lb(spread_in=50, axles=0),
        lambda: eu_four_axle_kg(outer_length_m=0),
    ],
)
def test_bad_input_gets_a_sentence(wrong):
    with pytest.raises(ValueError, match=r"^[A-Z].*\.$"):
        wrong()
