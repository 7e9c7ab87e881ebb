"""The five staff roles, and what a person in each may do. One table: every permission is a line here."""

from enum import StrEnum


class Role(StrEnum):
    YARD_HAND = "yard_hand"
    FITTER = "fitter"
    WORKSHOP_MANAGER = "workshop_manager"
    HIRE_DESK = "hire_desk"
    FLEET_MANAGER = "fleet_manager"

    @property
    def label(self) -> str:
        return self.value.replace("_", " ").capitalize()


ROLE_CHOICES = [(role.value, role.label) for role in Role]

EVERYBODY = frozenset(Role)
WORKSHOP = frozenset({Role.FITTER, Role.WORKSHOP_MANAGER, Role.FLEET_MANAGER})
MANAGERS = frozenset({Role.WORKSHOP_MANAGER, Role.FLEET_MANAGER})
DESK = frozenset({Role.HIRE_DESK, Role.FLEET_MANAGER})
WALKERS = frozenset({Role.YARD_HAND, Role.FITTER, Role.WORKSHOP_MANAGER, Role.FLEET_MANAGER})
# Who lets a cart out and takes it back.
AT_THE_GATE = DESK | {Role.YARD_HAND, Role.WORKSHOP_MANAGER}
# Those who share tablets. A manager's sign-in opens too much to stand on six digits.
PIN_HOLDERS = frozenset({Role.YARD_HAND, Role.FITTER})
FLEET_ONLY = frozenset({Role.FLEET_MANAGER})
