"""The factories keep the rules: what they make, the models' own checks accept."""

import pytest
from django.db.models import Model

from fleet.models.defects import STATES
from tests.factories.fleet import (
    CartFactory,
    DefectFactory,
    DocumentFactory,
    ExtinguisherFactory,
    HoldFactory,
    LimitFactory,
    MeterReadingFactory,
    PassFactory,
    PhotoFactory,
    TreadReadingFactory,
    TyreFittingFactory,
)

pytestmark = pytest.mark.django_db


def unknown(row: Model) -> set[str]:
    return {
        field.name
        for field in row._meta.concrete_fields
        if field.null and not field.blank and getattr(row, field.attname) is None
    }


@pytest.mark.parametrize(
    "made_by",
    [
        CartFactory, DocumentFactory, ExtinguisherFactory, HoldFactory, LimitFactory, MeterReadingFactory, PassFactory,
        PhotoFactory, TreadReadingFactory, TyreFittingFactory,
    ],
    ids=lambda made_by: made_by.__name__,
)  # fmt: skip
def test_made_rows_pass_their_models_own_checks(made_by):
    row = made_by()
    row.full_clean(exclude=unknown(row))


@pytest.mark.parametrize(
    ("state", "grade"),
    [
        (state, grade)
        for state, _ in STATES
        for grade in ("do_not_use", "by_date", "watch")
        if (state, grade) != ("put_off", "do_not_use")
    ],
)
def test_a_defect_of_any_state_and_grade_keeps_the_rules(state, grade):
    defect = DefectFactory(state=state, grade=grade)
    defect.full_clean(exclude=unknown(defect))
    assert defect.steps.count() == 1


@pytest.mark.parametrize(("layout", "wheels"), [("4x2", 6), ("6x4", 10), ("8x4", 12)])
def test_a_cart_has_a_wheel_position_for_every_tyre(layout, wheels):
    cart = CartFactory(layout=layout, tyres="9.5")
    assert cart.wheel_positions.count() == wheels
    assert [
        str(depth)
        for depth in cart.wheel_positions.values_list("fittings__tread_readings__depth_mm", flat=True)
    ] == ["9.5"] * wheels
