"""The demo's hires whose pre-starts the customers' own drivers sign: a site code, a phone opened with it, and what they found."""

from __future__ import annotations

from datetime import datetime

from config.demo.story import World
from config.demo.walking import Fault
from hire.actions import site
from inspections.models import SiteWalker

# Cart, its hire's site code, and who drives it. The demo's own, printed at every start; a real yard's are drawn by lot.
SITE_CODES = {"WC-05": ("K7CF3MXP", "Jo Tarrant"), "WC-15": ("HW4ER9DN", "Ken Ashby")}
# What a driver found, by cart and day.
FOUND_ON_SITE = {
    ("WC-05", -1): Fault("body", "by_date", "Water weeping from a pipe joint, a drip a second"),
}
PHONE_ADDRESS = "192.0.2.7"


def open_on_site(world: World, cart: str, at: datetime) -> SiteWalker:
    """The desk makes the hire's code, and its driver opens the pre-start at the plate."""
    code, driver = SITE_CODES[cart]
    site.make_site_code(line=world.lines[cart], by=world.people["dot"], at=at, code=code)
    plate = world.carts[cart].plate_code
    walker, _ = site.open_with_code(plate_code=plate, code=code, name=driver, address=PHONE_ADDRESS, at=at)
    world.drivers[cart] = walker
    return walker
