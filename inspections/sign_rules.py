"""The figures by which a walk-round is asked about, and each rule with what it rests on, in words for the page."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

COMMON_PRACTICE = "common practice, no source"
# Who is asked about is a person and not one walk-round: such a question is put to rest for a time.
PERSON_CODES = frozenset({"round", "rate"})


@dataclass(frozen=True, slots=True)
class Rules:
    """The yard's figures; docs/truthfulness.md holds them in a table. ValueError for a number that cannot be.

    pace_share: asked about when it took less than this share of the sheet's minutes, from pace_least_minutes on.
    quick_run answers in a row, each within quick_seconds of the one before. order_least stops, and order_share of them.
    photo_points: how many of 64 may differ. still_*: so many readings, and that share of them, the same on still_walks
    walk-rounds while the odometer or the engine hours rose by as much. round_least, rate_least: too few below that, on
    either side. chance: how rarely chance alone may give it. window_days: how far back one looks. rested_days: how long a question
    about a person's habit stays at rest.
    """

    pace_share: Decimal = Decimal(1) / 3
    pace_least_minutes: Decimal = Decimal(5)
    quick_seconds: Decimal = Decimal("1.2")
    quick_run: int = 10
    order_least: int = 3
    order_share: Decimal = Decimal("0.25")
    photo_points: int = 3
    still_walks: int = 4
    still_least: int = 4
    still_share: Decimal = Decimal("0.5")
    still_km: Decimal = Decimal(1000)
    still_hours: Decimal = Decimal(100)
    round_least: int = 20
    round_share: Decimal = Decimal("0.9")
    rate_least: int = 20
    chance: Fraction = Fraction(1, 1000)
    window_days: int = 180
    rested_days: int = 90

    def __post_init__(self) -> None:
        shares = (self.pace_share, self.order_share, self.still_share, self.round_share)
        if not all(0 < share <= 1 for share in shares) or not 0 < self.chance < Fraction(1, 2):
            raise ValueError("A share lies above 0 and at most at 1, a chance between 0 and a half.")
        counts = (self.quick_run, self.order_least, self.still_walks, self.still_least)
        if min(*counts, self.round_least, self.rate_least) < 2:
            raise ValueError("Fewer than two are no pattern.")
        if min(self.quick_seconds, self.pace_least_minutes, self.still_km, self.still_hours) <= 0:
            raise ValueError("Seconds, minutes, kilometres and hours are above zero.")
        if not 0 <= self.photo_points < 16 or min(self.window_days, self.rested_days) < 1:
            raise ValueError(
                "Under 16 points of a photo may differ, and a day is the shortest time to look back."
            )


@dataclass(frozen=True, slots=True)
class Explained:
    rule: str
    basis: str


def explain(code: str, rules: Rules) -> Explained:
    """A sign's rule and basis in words. KeyError for a code there is none of."""
    once_in = f"1 in {int(1 / rules.chance):,}"
    return {
        "clock": Explained(
            "An answer was given before the walk-round was begun or after it was signed, by the tablet’s own clock, with a "
            "minute’s slack.",
            "The three times contradict one another.",
        ),
        "pace": Explained(
            f"Less than {_share(rules.pace_share)} of the minutes its sheet reckons for the looks taken, from "
            f"{rules.pace_least_minutes} reckoned minutes on; or {rules.quick_run} good answers in a row, each within "
            f"{rules.quick_seconds} seconds of the one before. “Couldn’t check” and “not on this cart” take no time.",
            f"The sheet’s minutes are what a practised person takes. Share and run: {COMMON_PRACTICE}.",
        ),
        "order": Explained(
            f"At least {rules.order_least} stops, and {_share(rules.order_share)} of them, were answered out of the sheet’s "
            "turn. A stop’s time is that of its middle look, so single looks put off with “Later” or answered again do not "
            "count, and a stop put off whole counts once.",
            f"One walks once round each pass; the fewest stops that must move are counted. Tolerance: {COMMON_PRACTICE}.",
        ),
        "photo": Explained(
            f"The same file, or at most {rules.photo_points} of 64 points of brightness differ, beside a photo of an earlier "
            "walk-round of any cart or of another station of this one. Pictures without features never count.",
            "One picture made smaller or saved again stays within that; two pictures of like things came no nearer than 4 "
            "(measured, see the page in docs). Alike suggests and never proves.",
        ),
        "lot": Explained(
            "A look the yard’s lot picked was answered good or wrong without a photo, or the record names no lot although its "
            "sheets give one. “Couldn’t check” and “not on this cart” need none.",
            "The yard draws two looks for each pre-hire check, told only on arrival at them, and works them out again from "
            "the signed record. A tablet’s camera breaks too: the person says so, and the words stand beside the look.",
        ),
        "still": Explained(
            f"At least {rules.still_least} readings, and {_share(rules.still_share)} of those taken {rules.still_walks} times, "
            f"are the same to the digit on {rules.still_walks} walk-rounds, while the odometer rose {rules.still_km} km or "
            f"the engine hours {rules.still_hours}. Noughts, fuel and meters do not count.",
            "A reading over 1,000 km old is too old for a pre-hire check, and a gauge repeats to about half a millimetre: "
            f"the same figure every time is rare in honest measuring. Counts: {COMMON_PRACTICE}.",
        ),
        "round": Explained(
            f"Of at least {rules.round_least} readings {_share(rules.round_share)} are round, and chance alone gives so many "
            f"less than {once_in} times beside others’ readings of the same things on the same carts. Where others have "
            "read too few: the odometer’s last figure, a nought one time in ten.",
            "Exact test by counting, each check of each cart apart, so that a coarse gauge is the same for all.",
        ),
        "rate": Explained(
            f"At least {rules.rate_least} walk-rounds by this person and by others of the same carts on the same sheets, and "
            f"chance alone gives so few, or so many, that told of something new less than {once_in} times.",
            "Exact test by counting, each cart and sheet apart. It takes for granted that who walks when is not chosen by the "
            "cart’s state; where one always follows another, it is.",
        ),
    }[code]


def _share(share: Decimal) -> str:
    known = {Decimal(1) / 3: "a third", Decimal("0.25"): "a quarter", Decimal("0.5"): "half"}
    return known.get(share, f"{share * 100:.0f} %")
