"""Shared tablets and those who change over on them."""

from datetime import timedelta

from django.conf import settings

from people.roles import Role
from people.tablets.actions import enrol_tablet, note_password_sign_in, set_pin
from tests.factories.people import StaffFactory

PIN, OTHER_PIN = "480216", "739105"


def manager():
    return StaffFactory(full_name="Noor Halloran", role=Role.FLEET_MANAGER.value)


def enrolled(client, *, at, name="Wash bay"):
    """Make the client an enrolled tablet."""
    tablet, token = enrol_tablet(name=name, here=None, by=manager(), at=at - timedelta(days=1))
    client.cookies[settings.TABLET_COOKIE_NAME] = token
    return tablet


def hand(name, *, tablet=None, at, pin=PIN, role=Role.YARD_HAND):
    """Somebody with a PIN, who signed in with the password on the tablet at the start of the shift."""
    person = StaffFactory(full_name=name, role=role.value)
    if pin:
        set_pin(pin=pin, by=person, at=at)
    if tablet:
        note_password_sign_in(tablet=tablet, by=person, at=at)
    return person
