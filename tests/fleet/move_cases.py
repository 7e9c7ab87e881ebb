"""What the database itself refuses of a move permit: a case a named constraint, for the test of them all."""

from datetime import timedelta

from tests.factories.people import StaffFactory
from tests.factories.standing import MovePermitFactory

HOUR = timedelta(hours=1)


def change(permit, **fields):
    for name, value in fields.items():
        setattr(permit, name, value)
    permit.save()


def withdrawn_after_it_left():
    permit = MovePermitFactory(left=True)
    change(
        permit, withdrawn_at=permit.left_at + HOUR, withdrawn_by=StaffFactory(), withdrawn_words="Not wanted"
    )


def came_without_leaving():
    permit = MovePermitFactory()
    change(permit, came_at=permit.given_at + HOUR, came_by=StaffFactory(), came_to_words="Mill Road")


CASES = {
    "fleet_movepermit_one_open": lambda: MovePermitFactory(cart=MovePermitFactory().cart),
    "fleet_movepermit_ends_after_it_is_given": lambda: MovePermitFactory(
        given_at=MovePermitFactory().given_at, expires_at=MovePermitFactory().given_at
    ),
    "fleet_movepermit_tank_is_empty": lambda: MovePermitFactory(is_empty=False),
    "fleet_movepermit_names_its_driver": lambda: MovePermitFactory(driver=None),
    "fleet_movepermit_driven_says_how_fast": lambda: MovePermitFactory(speed_km_h=101),
    "fleet_movepermit_road_says_the_licence": lambda: MovePermitFactory(way="road", licence_words=""),
    "fleet_movepermit_leaves_before_it_ends": lambda: MovePermitFactory(
        left=True, left_at=MovePermitFactory().expires_at
    ),
    "fleet_movepermit_comes_after_it_left": came_without_leaving,
    "fleet_movepermit_withdrawn_unused": withdrawn_after_it_left,
}
