"""A hire ready for the gate, and what is filled in there."""

from datetime import timedelta

from hire.actions import gate
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, ExtinguisherFactory
from tests.factories.hire import LineFactory

HOUR = timedelta(hours=1)


def ready_line(people, at, *, certified=True, gate_out=True):
    """A line due to leave at `at`, its cart walked, certified and gated as asked."""
    walk.edition()
    cart = CartFactory(tyres=True)
    if not cart.extinguishers.exists() and cart.fitments.filter(kind="extinguisher").exists():
        ExtinguisherFactory(cart=cart)
    line = LineFactory(cart=cart, starts_at=at)
    hand, desk = people["yard_hand"], people["hire_desk"]
    walk.sign(cart, "pre_hire", by=hand, at=at - 5 * HOUR)
    if certified:
        gate.issue_certificate(line=line, by=desk, at=at - 4 * HOUR)
    if gate_out:
        walk.sign(cart, "gate_out", by=hand, at=at - timedelta(minutes=20))
    return line


def given(**changed):
    told = {
        "mode": "signed",
        "place_words": "Front gate",
        "keys_words": "With the driver",
        "condition_words": "Washed, no new marks",
        "items_words": "Standpipe SP-2",
        "fuel_eighths": 7,
        "taken_by_name": "Aoife Merrin",
        "signature_kind": "typed",
    }
    return gate.Given(**told | changed)
