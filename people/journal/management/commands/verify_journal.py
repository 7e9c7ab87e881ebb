from typing import Any

from django.core.management.base import BaseCommand, CommandError

from people.journal.models import ChainHead, Entry
from people.journal.verify import faults_in_journal


class Command(BaseCommand):
    help = "Walk every journal chain and recompute every hash. Exits 1 when anything does not match."

    def handle(self, *args: Any, **options: Any) -> None:
        faults = list(faults_in_journal())
        for fault in faults:
            self.stderr.write(f"{fault.chain} row {fault.position}: {fault.words}")
        if faults:
            raise CommandError(f"The journal has {len(faults)} faults.")
        self.stdout.write(f"{Entry.objects.count()} rows in {ChainHead.objects.count()} chains, all whole.")
