"""A gate-out check by the driver who collects the cart: when it is the gate’s eyes by itself, and when it waits for a manager."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fleet.needs import site_hire
from inspections.judging import Judged
from inspections.manifest import Manifest
from inspections.models import NameConfirmation, SiteWalker, WalkRound
from inspections.sheet import Sheet
from inspections.site_walkers import plain_name
from inspections.standing import latest_fit_pre_hire
from inspections.walkers import Walker

# Hires as a driver who collects a cart is on them (fleet.needs): by the id of the link they were given.
COLLECTION = "collection"
SOUND = frozenset({"good", "not_on_cart"})


def is_sound(walk: WalkRound, judged: Sequence[Judged], sheet: Sheet) -> bool:
    """Whether every look of its sheet was answered, required or not, and each is good or not on this cart. Common practice, no
    source."""
    if walk.outcome != "ready" or walk.reasons or walk.not_done:
        return False
    answered = {(one.check.key, one.given.place) for one in judged}
    whole = all((item.check.key, item.place) in answered for item in sheet.items)
    return whole and all(one.given.answer in SOUND and not one.grade for one in judged)


def is_of_the_driver(walk: WalkRound, manifest: Manifest, driver: SiteWalker) -> bool:
    """Whether whoever signed is the driver the link was given to: not another person on the same phone, nor another name."""
    is_theirs = manifest.author is None or manifest.author.id == driver.pk
    return is_theirs and plain_name(walk.signature_name).casefold() == driver.name.casefold()


def stand_by_link(
    walk: WalkRound, manifest: Manifest, judged: Sequence[Judged], sheet: Sheet, *, by: Walker, at: datetime
) -> NameConfirmation | None:
    """Let a driver's gate-out check stand by itself, vouched for by whoever gave them the link; None where it waits for a
    manager's acceptance. Called as it is signed, in that transaction.

    It stands only where every point is sound, the driver signed it themselves while the link was good, and a full check of
    the yard's own makes the cart fit: theirs is a second look at it and no more. Decision: docs/pre-starts.md.
    """
    if (
        not isinstance(by, SiteWalker)
        or not by.is_collecting
        or by.given_by is None
        or by.opened_through is None
    ):
        return None
    hire = site_hire(COLLECTION, by.opened_through, at=walk.signed_at)
    stands = (
        walk.purpose in by.purposes
        and hire is not None
        and not hire.is_over
        and is_sound(walk, judged, sheet)
        and is_of_the_driver(walk, manifest, by)
        and latest_fit_pre_hire(walk.cart, at=walk.signed_at) is not None
    )
    if not stands:
        return None
    vouched = NameConfirmation(walk_round=walk, by=by.given_by, at=at, how="given")
    vouched.save(force_insert=True)
    return vouched
