"""A caller's answer set against what their site asks."""

from __future__ import annotations

from dataclasses import replace

from hire.availability import Answer, Offer
from hire.models.customers import Customer
from hire.models.sites import SiteSet
from hire.site_check import lacking_for
from hire.site_facts import set_at, sets_for
from hire.site_rules import site_key
from hire.suiting import Enquiry


def set_for(customer: Customer | None, place_of_work: str) -> SiteSet | None:
    """The set in force for a caller's site; None where no customer is named or nobody wrote one down."""
    if customer is None:
        return None
    return set_at((customer.pk, site_key(place_of_work)), sets_for([customer.pk]))


def for_site(found: Answer, asked: SiteSet, enquiry: Enquiry) -> Answer:
    """The answer with what each cart lacks of the set; of carts that may go, those the site would stop come last."""
    offers = (*found.suiting, *found.stopped, *found.taken)
    lacking = lacking_for([one.cart for one in offers], asked, start=enquiry.start, end=enquiry.end)

    def placed(some: tuple[Offer, ...]) -> tuple[Offer, ...]:
        return tuple(replace(one, site=lacking[one.cart.pk]) for one in some)

    suiting = sorted(placed(found.suiting), key=lambda one: any(lack.is_must for lack in one.site))
    return replace(found, suiting=tuple(suiting), stopped=placed(found.stopped), taken=placed(found.taken))
