"""What a test sends over the tablet's wire, and the look of a sheet it needs."""

import json

from tests.factories import inspections as walk


def put(tablet, body, walk_id=None):
    """Send a record, as bytes or as what its JSON stands for, under its own id or another."""
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    return tablet.put(f"/sync/walk-round/{walk_id or body['id']}", raw, content_type="application/json")


def key_of(cart, purpose, *, family=None, answer=None, required=None):
    """The key and place of the first look of a sheet that is what a test needs."""
    for item in walk.sheet(cart, purpose).items:
        check = item.check
        if (
            family in (None, check.family)
            and answer in (None, check.answer)
            and required in (None, check.required)
        ):
            return check.key, item.place
    raise LookupError((purpose, family, answer))
