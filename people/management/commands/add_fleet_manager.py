import getpass
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from people.actions import add_first_manager
from people.refusals import Refusal


class Command(BaseCommand):
    help = "Add the yard's first fleet manager, who then adds everybody else on the People page."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("full_name")

    def handle(self, *args: Any, **options: Any) -> None:
        password = getpass.getpass("Password (15 characters or more): ")
        try:
            person = add_first_manager(
                username=options["username"],
                full_name=options["full_name"],
                password=password,
                at=timezone.now(),
            )
        except Refusal as refusal:
            raise CommandError(refusal.sentence) from refusal
        self.stdout.write(f"{person.full_name} can sign in as {person.username}.")
