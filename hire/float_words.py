"""The looks at a floated cart in words: the points of its travel state, and a sentence for each look."""

from __future__ import annotations

from collections.abc import Iterator

from fleet.drawing import fitted_gear
from fleet.models.carts import Cart
from fleet.models.photos import Photo
from hire.late_entries import local_words
from hire.models.agreements import Line
from hire.models.float_looks import EYES, FloatLook

# Each point with what it reads as, and the gear it is of; none: of every cart. As the gate-out check asks them; common practice,
# no source. Water in a tank moves on a float: it goes empty.
TRAVEL: tuple[tuple[str, str, frozenset[str]], ...] = (
    ("cannon", "cannon pinned", frozenset({"cannon"})),
    ("bars", "bars up", frozenset({"dribble_bar", "drop_bar"})),
    ("hoses", "hoses stowed", frozenset({"hose_reel", "suction_fill"})),
    ("pto", "PTO out", frozenset({"pto"})),
    ("lid", "lid shut", frozenset()),
    ("tank", "tank empty", frozenset()),
)
WORDS = {key: words for key, words, _ in TRAVEL}


def points_of(cart: Cart) -> dict[str, str]:
    """The points of this cart's travel state, by key: words (its gear prefetched, else one query)."""
    gear = set(fitted_gear(cart))
    return {key: words for key, words, needs in TRAVEL if not needs or needs & gear}


def look_words(look: FloatLook) -> str:
    """One look in words, by the clock of its site: "Loaded on Hauler 2, Kev, on 30 Nov 2026 at 17:10, tied down by Kev. …"."""
    about, who = look.line.agreement, f"{look.eyes_words} ({dict(EYES)[look.eyes].lower()})"
    when = local_words(look.happened_at, about)
    late = f", entered {local_words(look.entered_at, about)}" if look.entered_late else ""
    new = f" New: {look.new_words.rstrip('.')}." if look.new_words else ""
    if look.kind == "loading":
        travel = ", ".join(WORDS[key] for key in look.travel if key in WORDS)
        return (
            f"Loaded on {look.float_words} on {when}{late}, tied down by {look.tied_by_words}. "
            f"{who} looked at it: {travel}.{new}"
        )
    return f"Unloaded on {when}{late}. {who} looked at it.{new or ' Nothing new.'}"


def looks_of(line: Line) -> list[FloatLook]:
    """The looks at the cart that is on the hire now, in order, with their photos. Two queries."""
    looks = FloatLook.objects.filter(line=line, cart=line.cart_id).select_related(
        "by", "defect", "line__agreement"
    )
    return list(looks.prefetch_related("photos__photo"))


def told_looks(line: Line) -> Iterator[tuple[FloatLook, str, list[Photo]]]:
    """The newest look of each kind with its words and photos, loading first."""
    newest = {look.kind: look for look in looks_of(line)}
    for kind in ("loading", "unloading"):
        if look := newest.get(kind):
            yield look, look_words(look), [row.photo for row in look.photos.all()]
