"""The demo business has a second yard, to which four carts were sent."""

from __future__ import annotations

from datetime import datetime
from functools import partial

from config.demo.story import Script, World
from fleet.actions.yards import add_yard, transfer_cart
from fleet.models.yards import Yard

SENT = ("WC-10", "WC-20", "WC-22", "WC-24")


def _open(world: World, at: datetime) -> None:
    for name, address, phone in (
        ("Redgum Flat", "14 Standpipe Lane, Redgum Flat", "08 5550 0140"),
        ("Saltbush Crossing", "Lot 2, Crossing Road, Saltbush Crossing", "08 5550 0150"),
    ):
        add_yard(name=name, address=address, phone=phone, by=world.people["noor"], at=at)


def _send(world: World, cart: str, at: datetime) -> None:
    there = Yard.objects.get(name="Saltbush Crossing")
    transfer_cart(
        cart=world.carts[cart], to=there, is_there=True, words="Nearer the shire’s work; driven over by Wes", by=world.people["dot"],
        at=at,
    )  # fmt: skip


def yards(world: World, script: Script) -> None:
    script.at(world.when(-27, 9), partial(_open, world))
    for n, cart in enumerate(SENT):
        script.at(world.when(-25, 10, 15 * n), partial(_send, world, cart))
