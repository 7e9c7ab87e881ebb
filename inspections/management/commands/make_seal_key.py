"""Make the yard's sealing key and certificate, once."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inspections.certificates.keys import KeyAlreadyThere, make_seal_key


class Command(BaseCommand):
    """Run once, before any process starts, as the user whose worker seals; the key's path is for that worker alone."""

    help = "Make the key that seals papers (mode 0600) and its certificate. Never overwrites; prints the fingerprint."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--key", required=True, type=Path, help="where the private key goes; must not exist"
        )
        parser.add_argument(
            "--cert", required=True, type=Path, help="where the certificate goes; must not exist"
        )
        parser.add_argument(
            "--name", default="", help="the name on the seal; default: the yard's name and 'seal'"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["name"] or f"{settings.YARD_NAME} seal"
        try:
            mark = make_seal_key(
                key_file=options["key"], cert_file=options["cert"], name=name, at=timezone.now()
            )
        except KeyAlreadyThere as refusal:
            raise CommandError(
                f"{refusal} To use another key, name another path and keep this one."
            ) from refusal
        except ValueError as refusal:
            raise CommandError(str(refusal)) from refusal
        except OSError as fault:
            raise CommandError(
                f"{fault.filename or options['key']} could not be written: {fault.strerror}."
            ) from fault
        self.stdout.write(f"Seal key made. Fingerprint (SHA-256): {mark}")
