"""Hires that want a cart: booked with it to be chosen, or promised one that may be another; and why the other promises stay. Reads
only; queries do not grow with the hires."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from fleet.models.carts import Cart
from hire.availability import ASKED_GEAR, builds
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.packs_due import packs_standing
from hire.site_facts import Site, site_of
from hire.site_rules import site_key
from hire.suiting import ANY_CART, Build, Enquiry, Needs
from inspections.certificates.models import Certificate
from people.yard import yard_day, yard_policy

# So many promised hires are looked at together with the bookings, the earliest first.
MOST_PROMISED = 200
OFFERED = frozenset(ASKED_GEAR)


@dataclass(frozen=True)
class Wanted:
    """One hire with what is asked of its cart, and where it works."""

    hire: Booking | Line
    enquiry: Enquiry
    site: Site
    place: str

    @property
    def line(self) -> Line | None:
        return self.hire if isinstance(self.hire, Line) else None

    @classmethod
    def booked(cls, booking: Booking) -> Wanted:
        site = booking.customer_id, site_key(booking.place_of_work)
        return cls(booking, booking.enquiry(), site, booking.place_of_work)

    @classmethod
    def promised(cls, line: Line, build: Build) -> Wanted:
        """build: of the cart it has, which is what is asked where nobody asked for anything else."""
        about, needs = line.agreement, line.needs
        if needs == ANY_CART:
            gear, axles = (build.gear & OFFERED) - build.isolated, build.drive_axles
            needs = Needs(build.litres, 0, gear, axles if axles in (1, 2) else 0)
        enquiry = Enquiry(
            line.promised.lower, line.promised.upper, litres=needs.litres, gear=needs.gear, drive_axles=needs.drive_axles,
            leaves_by=about.leaves_by, works_on=about.works_on, is_potable=about.water == "potable",
            road_litres=needs.road_litres, shift=about.shift,
        )  # fmt: skip
        return cls(line, enquiry, site_of(line), about.place_of_work)


def stays(
    *, leaves_at: datetime, is_this_cart: bool, has_certificate: bool, has_pack: bool, at: datetime
) -> str:
    """Why a hire that has not left keeps the cart it is promised, as it is said after its number; "" where it may be another.

    A site has the papers of the very cart once its pack is sent, wants those of another as many days ahead, and may turn away one
    whose papers it has not: so that hire stays. Common practice, no source.
    """
    lead = yard_policy().move_lead
    if leaves_at <= at + lead:
        return f"leaves within {lead.total_seconds() / 3600:g} hours"
    if is_this_cart:
        return "was promised this very cart"
    if has_certificate:
        return "has its certificate"
    return "has its papers at the site already" if has_pack else ""


def why_they_stay(lines: Sequence[Line], *, at: datetime) -> dict[UUID, str]:
    """Of hires that have not left those that keep their cart, each with why, as `stays` says it. Four queries, however many."""
    certified: set[UUID] = set(
        Certificate.objects.filter(
            kind="pre_hire", subject_kind="hire_line", subject_id__in=[line.pk for line in lines], replaced_by=None,
            withdrawal=None,
        ).values_list("subject_id", flat=True)
    )  # fmt: skip
    packed = packs_standing(lines)
    found = {
        line.pk: stays(
            leaves_at=line.promised.lower,
            is_this_cart=line.is_this_cart,
            has_certificate=line.pk in certified,
            has_pack=line.pk in packed,
            at=at,
        )
        for line in lines
    }
    return {pk: why for pk, why in found.items() if why}


def may_move(*, at: datetime) -> list[Wanted]:
    """The promised hires that may have another cart, the earliest first; those after the bookings too, since one makes room for the
    next."""
    lines = list(
        Line.objects.to_come()
        .filter(
            promised__startswith__gt=at + yard_policy().move_lead,
            is_this_cart=False,
            cart__in=Cart.objects.in_fleet(on=yard_day(at)),
        )
        .for_list()
        .order_by("promised", "pk")[:MOST_PROMISED]
    )
    keep = why_they_stay(lines, at=at)
    free = [line for line in lines if line.pk not in keep]
    kinds = _builds([line.cart for line in free])
    return [Wanted.promised(line, kinds[line.cart_id]) for line in free]


def _builds(carts: Sequence[Cart]) -> Mapping[UUID, Build]:
    return builds(list({cart.pk: cart for cart in carts}.values()))
