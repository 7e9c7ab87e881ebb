from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand
from django.urls import reverse
from django.utils import timezone

from config.demo.on_site import SITE_CODES
from config.demo.yard import PASSWORD, PEOPLE, PINS
from fleet.plate_code import plate_address
from hire.actions.site import printed
from hire.models.links import SiteCode
from inspections.models import Edition
from people.roles import Role


class Command(BaseCommand):
    help = "Print one sign-in per role of the demo yard, and say so when the demo has grown old."

    def handle(self, *args: Any, **options: Any) -> None:
        seen = set()
        for username, full_name, role, _ in PEOPLE:
            if role not in seen:
                self.stdout.write(f"  {Role(role).label:<17} {username:<6} {full_name}")
            seen.add(role)
        self.stdout.write(f"  Everybody's password: {PASSWORD}")
        pins = ", ".join(f"{username} {pin}" for username, pin in PINS.items())
        self.stdout.write(f"  PINs, on a tablet that a manager has enrolled: {pins}")
        self._doors_on_site()
        loaded = Edition.objects.order_by("number").values_list("published_at", flat=True).first()
        # The story begins 28 days before it was loaded.
        if loaded and timezone.now() - loaded > timedelta(days=29):
            self.stdout.write(
                "  This demo was loaded over a day ago, so its dates have moved on: --fresh tells it anew."
            )

    def _doors_on_site(self) -> None:
        """Where a customer's driver opens the pre-start of a hire that is out: the plate's address and the site code."""
        codes = SiteCode.objects.filter(line__back_at=None, line__cart__fleet_number__in=SITE_CODES)
        for cart in (
            made.line.cart for made in codes.select_related("line__cart").order_by("line__cart__fleet_number")
        ):
            code, _ = SITE_CODES[cart.fleet_number]
            address = plate_address(reverse("fleet:plate", args=[cart.plate_code]))
            self.stdout.write(f"  On site with {cart.fleet_number}: {address}  site code {printed(code)}")
