"""Which carts could take the place of one that broke on its hire."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db.models import Q

from fleet.models.carts import Cart
from fleet.readiness import Window, readiness_of
from fleet.sentences import readiness_sentence
from hire.models.agreements import Line
from hire.models.pencils import Pencil
from hire.site_check import lacking_for
from hire.site_facts import set_of

# Time to walk a cart and let it go; only for choosing one, the gate judges it when it leaves. Common practice, no source.
UNTIL_IT_LEAVES = timedelta(hours=2)
ORDER = {"ready": 0, "limits": 1, "held": 2}


def carts_for_the_rest(line: Line, *, at: datetime) -> list[tuple[Cart, str]]:
    """Carts that are in, and neither promised nor pencilled for anybody until the hire ends, each with its readiness in a
    sentence: those that may go first, those the site would stop last. Queries do not grow with the carts."""
    start = at + UNTIL_IT_LEAVES
    end = max(line.promised.upper, start + timedelta(hours=1))
    about = line.agreement
    window = Window(
        start, end, leaves_by=about.leaves_by, works_on=about.works_on, is_potable=about.water == "potable"
    )
    busy = Line.objects.unfinished().filter(Q(handed_over_at__isnull=False) | Q(promised__overlap=(at, end)))
    kept = Pencil.objects.standing(at=at).filter(period__overlap=(at, end))
    free = Cart.objects.filter(retired_on=None).exclude(pk__in=busy.values("cart"))
    carts = list(free.exclude(pk__in=kept.values("cart")))
    answers = readiness_of(carts, window=window, at=at)
    asked = set_of(line)
    lacking = lacking_for(carts, asked, start=start, end=end) if asked else {}
    musts = {cart.pk: [one.what for one in lacking.get(cart.pk, ()) if one.is_must] for cart in carts}
    carts.sort(key=lambda cart: (bool(musts[cart.pk]), ORDER[answers[cart.pk].state], cart.fleet_number))
    return [(cart, _words(readiness_sentence(answers[cart.pk]), musts[cart.pk])) for cart in carts]


def _words(sentence: str, musts: Sequence[str]) -> str:
    return f"The site would stop it: {'; '.join(musts)}. {sentence}" if musts else sentence
