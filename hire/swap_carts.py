"""Which carts could take the place of the cart of a hire: one that broke while out, or one that is not to leave after all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db.models import Q

from fleet.gear import GEAR
from fleet.models.carts import Cart
from fleet.readiness import Readiness, Window, readiness_of
from fleet.sentences import readiness_sentence
from hire import suiting
from hire.availability import builds, with_road_fill
from hire.models.agreements import Line
from hire.models.pencils import Pencil
from hire.owner_standing import OWNER_ENDS
from hire.querysets import in_the_way
from hire.site_check import lacking_for
from hire.site_facts import set_of
from hire.suiting import Lack
from hire.tank_order import met_by

# Time to walk a cart and let it go; only for choosing one, the gate judges it when it leaves. Common practice, no source.
UNTIL_IT_LEAVES = timedelta(hours=2)
# A hire that ends within this may be asked how long it goes on, and one that should have ended is. Common practice, no source.
NEAR_ITS_END = timedelta(hours=1)
ORDER = {"ready": 0, "limits": 1, "held": 2}
Choice = tuple[Cart, str]


def cart_choices(found: Iterable[Choice]) -> list[tuple[object, str]]:
    """Carts with their words, as a form offers them."""
    return [
        ("", "Choose a cart"),
        *((cart.pk, f"{cart.fleet_number}, {cart.tank_capacity_l:,} L. {words}") for cart, words in found),
    ]


def asks_end(line: Line, *, at: datetime) -> bool:
    """Whether a swap asks until when the hire goes on: its cart is late, or was to be back within the hour."""
    return bool(line.promised.upper <= at + NEAR_ITS_END)


def carts_for_the_rest(line: Line, *, at: datetime) -> list[Choice]:
    """Carts that are in, and neither promised nor pencilled for anybody until the hire ends, each with its readiness in a
    sentence: those that may go first, those that lack what is asked last. Queries do not grow with the carts."""
    start = at + UNTIL_IT_LEAVES
    end = max(line.promised.upper, start + timedelta(hours=1))
    busy = Q(handed_over_at__isnull=False) | Q(kept__overlap=(at, end))
    return _in_order(line, _free(line, busy, (at, end), at=at), start, end, at=at)


def carts_instead(line: Line, *, at: datetime) -> list[Choice]:
    """Carts that could go instead of the one promised: neither promised nor pencilled for anybody in its period, nor out past their
    day; in the order of a swap. Queries do not grow with the carts."""
    start = max(line.promised.lower, at + UNTIL_IT_LEAVES)
    end = max(line.promised.upper, start + timedelta(hours=1))
    period = (line.promised.lower, line.promised.upper)
    return _in_order(line, _free(line, in_the_way(*period, at=at), period, at=at), start, end, at=at)


def _free(line: Line, busy: Q, period: tuple[datetime, datetime], *, at: datetime) -> list[Cart]:
    """Nor such whose tank the water of one of two hires would spoil for the other."""
    taken = Line.objects.unfinished().filter(busy)
    kept = Pencil.objects.standing(at=at).filter(period__overlap=period)
    free = Cart.objects.filter(retired_on=None).exclude(pk__in=taken.values("cart"))
    carts = list(free.exclude(pk__in=kept.values("cart")))
    met = met_by(carts, line.agreement.water, *period, at=at)
    return [cart for cart in carts if all(one.is_apart for one in met.get(cart.pk, ()))]


def _in_order(
    line: Line, carts: Sequence[Cart], start: datetime, end: datetime, *, at: datetime
) -> list[Choice]:
    about, needs = line.agreement, line.needs
    window = Window(
        start,
        end,
        leaves_by=about.leaves_by,
        works_on=about.works_on,
        is_potable=about.water == "potable",
        rule_set=about.rule_set,
    )
    answers, kinds = readiness_of(carts, window=window, at=at), builds(carts)
    if needs.road_litres:
        kinds |= with_road_fill(kinds, carts, at=at, rule_set=about.rule_set)
    asked = set_of(line)
    lacking = lacking_for(carts, asked, start=start, end=end) if asked else {}
    found = []
    for cart in carts:
        musts = [one.what for one in lacking.get(cart.pk, ()) if one.is_must]
        lacks, answer = suiting.lacks(needs, kinds[cart.pk], names=GEAR), answers[cart.pk]
        rank = (
            bool(musts) or _is_short(lacks), bool(lacks), ORDER[answer.state], bool(_owners(answer)), cart.fleet_number
        )  # fmt: skip
        found.append((rank, (cart, _words(answer, musts, lacks))))
    return [choice for _, choice in sorted(found, key=lambda one: one[0])]


def _is_short(lacks: Iterable[Lack]) -> bool:
    """It would not do the work: gear that is isolated stops it at the gate as gear that is not there does."""
    return any(one.kind == "gear" or not one.is_near for one in lacks)


def _owners(answer: Readiness) -> str:
    """That the cart is not the yard's for the whole of the hire, and until when; "" where it is."""
    return " ".join(one.sentence for one in answer.cautions if one.code == OWNER_ENDS)


def _words(answer: Readiness, musts: Sequence[str], lacks: Sequence[Lack]) -> str:
    sentence = readiness_sentence(answer)
    what = "; ".join(one.what for one in lacks)
    if _is_short(lacks):
        # Never called ready: it lacks what the job needs.
        sentence = f"Not what is asked: {what}. But for that: {sentence[:1].lower()}{sentence[1:]}"
    elif lacks:
        sentence = f"Near: {what}. {sentence}"
    sentence = f"{sentence} {_owners(answer)}".strip()
    return f"The site would stop it: {'; '.join(musts)}. {sentence}" if musts else sentence
