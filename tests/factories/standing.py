"""What stands on a cart for a while: passes by phone, move permits, a cart put away. Passes signed, holds and limits are with the
fleet's."""

from __future__ import annotations

from datetime import timedelta

import factory
from factory.django import DjangoModelFactory

from fleet.models.permits import MovePermit
from fleet.models.standing import PutAway
from tests.factories.fleet import JOINED_AT, CartFactory, HoldFactory, PassFactory
from tests.factories.people import StaffFactory


class PutAwayFactory(DjangoModelFactory):
    class Meta:
        model = PutAway

    cart = factory.SubFactory(CartFactory)
    keys_words = "Key board, hook 4"
    said_at = JOINED_AT + timedelta(days=60)
    said_by = factory.SubFactory(StaffFactory)


class MovePermitFactory(DjangoModelFactory):
    """A permit nobody has used yet, of a cart that is tagged out; left=True: on its way, came=True: there."""

    class Meta:
        model = MovePermit

    class Params:
        left = False
        came = False

    cart = factory.LazyFunction(lambda: HoldFactory().cart)
    number = factory.Sequence(lambda n: f"M2026-{n + 1:05d}")
    way = "ground"
    from_words = "In the yard"
    to_kind = "workshop"
    to_words = "Mill Road Wheels"
    driver = factory.SubFactory(StaffFactory)
    licence_words = "HR"
    speed_km_h = factory.LazyAttribute(lambda made: None if made.way == "float" else 20)
    is_empty = True
    empty_words = "Ruby, from the lid"
    controls_words = factory.LazyAttribute(
        lambda made: "" if made.way == "float" else "Teo: brakes hold, steering free, nuts tight"
    )
    reason = "Two wheels are seen to there"
    held_by = factory.LazyFunction(lambda: ["Tagged out by Bruna: gearbox noise."])
    musts = factory.LazyFunction(lambda: ["The tank stays empty."])
    given_at = JOINED_AT + timedelta(days=60)
    given_by = factory.SubFactory(StaffFactory, role="workshop_manager")
    expires_at = factory.LazyAttribute(lambda made: made.given_at + timedelta(hours=12))
    left_at = factory.LazyAttribute(
        lambda made: made.given_at + timedelta(hours=1) if made.left or made.came else None
    )
    left_by = factory.Maybe(
        factory.LazyAttribute(lambda made: made.left_at is not None), factory.SubFactory(StaffFactory)
    )
    came_at = factory.LazyAttribute(lambda made: made.left_at + timedelta(hours=1) if made.came else None)
    came_by = factory.Maybe(
        factory.LazyAttribute(lambda made: made.came_at is not None), factory.SubFactory(StaffFactory)
    )
    came_to_words = factory.LazyAttribute(lambda made: made.to_words if made.came else "")


class SpokenPassFactory(PassFactory):
    """The same, given by phone and entered by a yard hand ten minutes later."""

    entered_by = factory.SubFactory(StaffFactory)
    spoken_at = factory.LazyAttribute(lambda made: made.given_at - timedelta(minutes=10))
    confirm_by_at = factory.LazyAttribute(lambda made: made.spoken_at + timedelta(hours=12))
