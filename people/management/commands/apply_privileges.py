from typing import Any

from django.core.management.base import BaseCommand

from people.privileges import apply_privileges, sealed_tables


class Command(BaseCommand):
    help = "Give the application's database role its rights; sealed tables take INSERT and SELECT only."

    def handle(self, *args: Any, **options: Any) -> None:
        apply_privileges()
        self.stdout.write(f"Rights given; {len(sealed_tables())} tables are sealed.")
