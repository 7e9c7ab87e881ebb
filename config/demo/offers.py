"""Services offered on site in the invented yard: one refused by name, one that nobody has answered."""

from __future__ import annotations

from datetime import timedelta

from config.demo.story import World
from hire.actions.service_offers import Answered, Offered, answer_offer, offer_service
from servicing.models.plans import ServicePlan


def offers(world: World) -> None:
    line, dot = world.lines["WC-07"], world.people["dot"]
    who = line.agreement.customer.contact_name
    for plan, days, access in (
        ("Grease round", 1, ""),
        ("250-hour service", 4, "Level ground, the tank empty"),
    ):
        offer = offer_service(
            line=line, plan=ServicePlan.objects.get(name=plan),
            said=Offered(who, world.when(-1, 14), world.when(days, 7), world.when(days, 11), access), by=dot, at=world.now,
        )  # fmt: skip
        if not access:
            refused = Answered(is_agreed=False, by_words=who, words="The pour goes on all day")
            told_at = world.when(-1, 14) + timedelta(minutes=10)
            answer_offer(offer=offer, said=refused, told_at=told_at, by=dot, at=world.now)
