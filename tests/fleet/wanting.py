"""Carts that somebody wants, without the hire desk."""

import uuid
from datetime import timedelta

from fleet import needs
from fleet.needs import Need
from fleet.readiness import Window


def wanted(monkeypatch, starts):
    """Let each cart be promised from its instant on, for three days."""
    found = {
        cart.pk: Need(
            Window(start, start + timedelta(days=3)),
            f"Customer of {cart}",
            "hire_line",
            uuid.uuid4(),
            is_out=False,
        )
        for cart, start in starts.items()
    }
    provider = lambda carts, **_when: {cart.pk: found[cart.pk] for cart in carts if cart.pk in found}  # noqa: E731 - one line
    monkeypatch.setattr(needs, "_provider", [provider])
