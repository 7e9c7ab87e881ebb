from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from config.demo.yard import PASSWORD, PEOPLE, PINS
from inspections.models import Edition
from people.roles import Role


class Command(BaseCommand):
    help = "Print one sign-in per role of the demo yard, and say so when the demo has grown old."

    def handle(self, *args: Any, **options: Any) -> None:
        seen = set()
        for username, full_name, role in PEOPLE:
            if role not in seen:
                self.stdout.write(f"  {Role(role).label:<17} {username:<6} {full_name}")
            seen.add(role)
        self.stdout.write(f"  Everybody's password: {PASSWORD}")
        pins = ", ".join(f"{username} {pin}" for username, pin in PINS.items())
        self.stdout.write(f"  PINs, on a tablet that a manager has enrolled: {pins}")
        loaded = Edition.objects.order_by("number").values_list("published_at", flat=True).first()
        # The story begins 28 days before it was loaded.
        if loaded and timezone.now() - loaded > timedelta(days=29):
            self.stdout.write(
                "  This demo was loaded over a day ago, so its dates have moved on: --fresh tells it anew."
            )
