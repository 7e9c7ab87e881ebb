"""Rules of the tread limits: on the figure passes, the greater figure withdraws, odd words are refused."""

from decimal import Decimal
from fractions import Fraction

import pytest

from fleet.tread_limits import (
    POSITIONS,
    RULE_SETS,
    YARD_DEFAULT_MM,
    inches_to_mm,
    judge,
    legal_limit,
    out_of_range,
    withdrawal_limit,
)

PLACES = [(rule_set, position) for rule_set in RULE_SETS for position in POSITIONS]
HAIR_MM = Decimal("0.0001")


@pytest.mark.parametrize(("rule_set", "position"), PLACES)
@pytest.mark.parametrize(
    ("step", "state"),
    [
        pytest.param(-HAIR_MM, "under_law", id="a hair under"),
        pytest.param(Decimal(0), "sound", id="on the figure"),
        pytest.param(HAIR_MM, "sound", id="a hair over"),
    ],
)
def test_the_legal_figure_itself_passes(rule_set: str, position: str, step: Decimal, state: str) -> None:
    depth_mm = legal_limit(rule_set=rule_set, position=position).depth_mm + step
    assert judge(depth_mm=depth_mm, rule_set=rule_set, position=position, yard_mm=0).state == state


@pytest.mark.parametrize(("rule_set", "position"), PLACES)
@pytest.mark.parametrize(
    ("step", "state"),
    [
        pytest.param(-HAIR_MM, "under_yard", id="a hair under"),
        pytest.param(Decimal(0), "sound", id="on the figure"),
        pytest.param(HAIR_MM, "sound", id="a hair over"),
    ],
)
def test_the_yards_figure_itself_passes(rule_set: str, position: str, step: Decimal, state: str) -> None:
    depth_mm = YARD_DEFAULT_MM[position] + step
    assert judge(depth_mm=depth_mm, rule_set=rule_set, position=position).state == state


@pytest.mark.parametrize(("rule_set", "position"), PLACES)
def test_a_tyre_under_the_law_is_never_called_merely_under_the_yards(rule_set: str, position: str) -> None:
    legal_mm = legal_limit(rule_set=rule_set, position=position).depth_mm
    verdict = judge(depth_mm=legal_mm - HAIR_MM, rule_set=rule_set, position=position, yard_mm=12)
    assert verdict.state == "under_law"
    assert verdict.withdrawal.depth_mm == 12


def test_the_greater_of_the_two_withdraws() -> None:
    assert withdrawal_limit(rule_set="us", position="steer", yard_mm=3).set_by == "law"
    assert withdrawal_limit(rule_set="us", position="steer", yard_mm=3).depth_mm == Decimal("3.175")
    deeper = withdrawal_limit(rule_set="us", position="steer", yard_mm=Decimal("3.2"))
    assert (deeper.set_by, deeper.depth_mm) == ("yard", Decimal("3.2"))
    assert (deeper.as_written, deeper.source) == ("3.2 mm", "common practice, no source")


def test_equal_figures_are_printed_as_the_laws() -> None:
    equal = withdrawal_limit(rule_set="au", position="other", yard_mm=1.5)
    assert equal.set_by == "law"
    assert equal.source.startswith("TY-09")


def test_a_yard_that_says_nothing_gets_the_usual_depths() -> None:
    assert withdrawal_limit(rule_set="au", position="steer").depth_mm == Decimal("4.0")
    assert withdrawal_limit(rule_set="au", position="other").depth_mm == Decimal("3.0")


@pytest.mark.parametrize("depth_mm", [Decimal("3.1750"), 3.175], ids=["Decimal", "float"])
def test_a_depth_is_compared_exactly_in_whatever_form_it_comes(depth_mm: Decimal | float) -> None:
    assert judge(depth_mm=depth_mm, rule_set="us", position="steer", yard_mm=0).state == "sound"


def test_inches_convert_without_rounding() -> None:
    assert inches_to_mm(Fraction(2, 32)) == Decimal("1.5875")
    assert inches_to_mm(Fraction(4, 32)) == Decimal("3.175")
    assert judge(depth_mm=Decimal("1.58"), rule_set="us", position="other").state == "under_law"


@pytest.mark.parametrize(
    ("gross_mass_kg", "count"), [(3499, 1), (3500, 1), (3501, 0)], ids=["under", "on", "over"]
)
def test_a_light_uk_vehicle_is_told_the_figure_is_not_for_it(gross_mass_kg: int, count: int) -> None:
    assert len(out_of_range(rule_set="uk", gross_mass_kg=gross_mass_kg)) == count
    assert out_of_range(rule_set="au", gross_mass_kg=gross_mass_kg) == ()


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        pytest.param({"rule_set": "eu"}, "'eu' is not a rule set", id="rule set"),
        pytest.param({"position": "drive"}, "'drive' is not a tyre position", id="position"),
        pytest.param({"depth_mm": Decimal("-0.1")}, "depth can't be below zero", id="negative depth"),
        pytest.param({"depth_mm": float("nan")}, "depth has to be a number", id="NaN"),
        pytest.param({"depth_mm": float("inf")}, "depth has to be a number", id="infinite"),
        pytest.param({"yard_mm": -1}, "depth can't be below zero", id="negative yard figure"),
    ],
)
def test_what_can_not_be_judged_is_refused_in_a_sentence(arguments: dict[str, object], sentence: str) -> None:
    asked: dict[str, object] = {"depth_mm": 5, "rule_set": "au", "position": "steer", **arguments}
    with pytest.raises(ValueError, match=sentence):
        judge(**asked)  # type: ignore[arg-type]


def test_a_mass_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="A mass can't be below zero"):
        out_of_range(rule_set="uk", gross_mass_kg=-1)
