"""What the journal says of a cart, for the tests of the fleet."""

import json

from people.journal.actions import YARD, cart_chain
from people.journal.models import Entry


def entries_of(cart):
    """(event, facts) of each entry of the cart's chain (of the yard's for None), oldest first."""
    chain = cart_chain(cart.pk) if cart else YARD
    return [
        (entry.event, json.loads(entry.text)["facts"])
        for entry in Entry.objects.filter(chain=chain).order_by("position")
    ]


def events_of(cart):
    return [event for event, _ in entries_of(cart)]
