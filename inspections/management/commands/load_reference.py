from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from inspections.editions import NothingToPublish, publish_edition


class Command(BaseCommand):
    help = "Publish the check library as a new issue of the sheets when it has changed. Safe to run at every start."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            edition = publish_edition(why="The library of this version of Slake.", by=None, at=timezone.now())
        except NothingToPublish as nothing:
            self.stdout.write(nothing.sentence)
        else:
            self.stdout.write(f"Published issue {edition.number} of the check sheets.")
