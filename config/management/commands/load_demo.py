from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.demo.changes import changes
from config.demo.extinguishers import extinguisher, looked_at
from config.demo.money import dockets, prices
from config.demo.offers import offers
from config.demo.owners import hired_in
from config.demo.returns import decided
from config.demo.runs import runs
from config.demo.services import booked, services
from config.demo.sites import at_their_sites
from config.demo.sites import book as contacts
from config.demo.spraying import planned, spraying
from config.demo.story import Script, World, set_up
from config.demo.walking import Walker
from config.demo.water import tanks
from config.demo.weeks import hires, yard_rounds
from config.demo.weights import weights
from config.demo.wet import book as operators
from config.demo.wet import dockets as daily_dockets
from config.demo.wheels import fit_tyres, wheel_work
from config.demo.workshop import bench
from config.demo.yards import yards
from fleet.alerts.actions import sweep
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from inspections.certificates.models import Certificate
from inspections.models import WalkRound
from people.models import Staff
from servicing.service_book import reckon_all
from servicing.tyre_forecasts import make_tyre_forecasts


class Command(BaseCommand):
    help = "Tell the demo yard's last three weeks by running the real actions. Only into an empty yard."

    def handle(self, *args: Any, **options: Any) -> None:
        if Staff.objects.exists():
            raise CommandError("There are people in this yard already; the demo is loaded into an empty one.")
        world = World(now=timezone.now(), walker=Walker(seed=20))
        set_up(world)
        for n, cart in enumerate(world.carts.values()):
            extinguisher(world, cart, n, world.when(-28, 8))
        prices(world)
        contacts(world)
        operators(world)
        fit_tyres(world)
        script = Script()
        services(world, script)
        looked_at(world, script)
        tanks(world, script)
        spraying(world, script)
        weights(world, script)
        yard_rounds(world, script)
        hires(world, script)
        bench(world, script)
        wheel_work(world, script)
        decided(world, script)
        dockets(world, script)
        hired_in(world, script)
        runs(world, script)
        yards(world, script)
        daily_dockets(world, script)
        at_their_sites(world, script)
        changes(world, script)
        script.play(until=world.now)
        booked(world)
        planned(world)
        reckon_all(at=world.now)
        offers(world)
        make_tyre_forecasts(at=world.now)
        sweep(at=world.now)
        self.stdout.write(
            f"{Cart.objects.count()} carts, {WalkRound.objects.count()} walk-rounds, {Defect.objects.count()} defects, "
            f"{Certificate.objects.count()} papers."
        )
