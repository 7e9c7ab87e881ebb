"""What this yard's own tyres wear, by kind of axle and duty: the figure a tyre with few readings leans on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from servicing.models.tyres import FleetWear
from servicing.tread import MAD_TO_SD, TreadPrior

# A tyre tells the fleet's wear once it has this many km read over this distance, and so many tyres make a rate. Ours.
KM_READ = 4
KM_SPAN = 3000.0
TYRES = 5
# Five tyres that happen to agree are no proof that all do.
LEAST_SPREAD_SHARE = 0.1

Kind = tuple[bool, str]


@dataclass(frozen=True)
class TyreWear:
    """One tyre's own wear by its own readings."""

    steers: bool
    duty: str
    wear_mm_per_1000_km: float


def rates(tyres: Iterable[TyreWear]) -> dict[Kind, tuple[TreadPrior, int]]:
    """The rate and the number of tyres behind it by (steers, duty), and by (steers, "") of all duties together; kinds with
    too few tyres are left out, as are tyres that do not wear."""
    by_kind: defaultdict[Kind, list[float]] = defaultdict(list)
    for tyre in tyres:
        for duty in {tyre.duty, ""}:
            by_kind[tyre.steers, duty].append(tyre.wear_mm_per_1000_km)
    found = {}
    for kind, wears in by_kind.items():
        middle = float(np.median(wears))
        if len(wears) >= TYRES and middle > 0:
            spread = MAD_TO_SD * float(np.median(np.abs(np.asarray(wears) - middle)))
            found[kind] = (TreadPrior(middle, max(spread, LEAST_SPREAD_SHARE * middle)), len(wears))
    return found


def rate_for(found: Mapping[Kind, FleetWear], *, steers: bool, duty: str) -> FleetWear | None:
    """The rate of that axle and duty, else of all duties of that kind of axle, else none."""
    return found.get((steers, duty)) or found.get((steers, ""))


def keep_rates(found: Mapping[Kind, tuple[TreadPrior, int]], *, at: datetime) -> dict[Kind, FleetWear]:
    """Write the yard's rates anew and give their rows; a rate that has too few tyres now goes."""
    FleetWear.objects.bulk_create(
        [
            FleetWear(
                steers=steers,
                duty=duty,
                wear_mm_per_1000_km=prior.wear_mm_per_1000_km,
                spread_mm_per_1000_km=prior.spread_mm_per_1000_km,
                tyres_count=count,
                made_at=at,
            )
            for (steers, duty), (prior, count) in found.items()
        ],
        update_conflicts=True,
        unique_fields=["steers", "duty"],
        update_fields=["wear_mm_per_1000_km", "spread_mm_per_1000_km", "tyres_count", "made_at"],
    )
    kept = kept_rates()
    gone = [row.pk for kind, row in kept.items() if kind not in found]
    if gone:
        FleetWear.objects.filter(pk__in=gone).delete()
    return {kind: row for kind, row in kept.items() if kind in found}


def kept_rates() -> dict[Kind, FleetWear]:
    return {(row.steers, row.duty): row for row in FleetWear.objects.all()}
