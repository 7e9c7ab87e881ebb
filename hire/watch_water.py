"""Carts out for drinking water in whose tank something else was put on that very hire."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from fleet.alerts.rules import Condition
from fleet.sentences import past_words
from fleet.water.history import UNKNOWN
from fleet.water_told import told_of
from hire.models.agreements import Line
from people.roles import Role

GOOD = frozenset({"potable", UNKNOWN})


def potable_spoilt(at: datetime) -> Iterator[Condition]:
    """Potable hires that are out, of which a load or a daily docket tells water that is not potable; until that is taken back, the
    cart is back, or the hire is one of any water. Four queries."""
    lines = list(Line.objects.out_now().filter(agreement__water="potable").for_list())
    told = told_of([line.cart for line in lines])
    for line in lines:
        found = [
            one for one in told.get(line.cart_id, ()) if one.record.id == line.pk and one.source not in GOOD
        ]
        if not found:
            continue
        newest, about = max(found, key=lambda one: one.at), line.agreement
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="stop",
            for_role=Role.HIRE_DESK,
            what=f"{line.cart.fleet_number} is out for drinking water at {about.place_of_work[:80]} and was filled with other "
            f"water: {newest.what.lower()}.",
            how_we_know=f"Told {newest.words}, last {past_words(newest.at, at=at)}.",
            if_not=f"Somebody drinks it. {about.customer.name}: {about.customer.phone}. Another cart has to go.",
            due_at=newest.at,
            act="Ring them: nobody drinks from it",
        )
