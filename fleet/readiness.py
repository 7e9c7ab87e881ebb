"""May this cart go? One computation that board, gate, search, alerts and queue all ask; its answer is never stored.

Each app registers one provider, which answers for many carts at once in a constant number of queries.
A provider that raises makes the cart not ready ("could not be checked"): silence is never a yes.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Q

from fleet.models.carts import Cart
from fleet.models.standing import Pass, unconfirmed_counts
from people.roles import Role

log = logging.getLogger("slake.readiness")


@dataclass(frozen=True)
class Window:
    """The period a cart is wanted for, half-open, and how it gets there.

    leaves_by: "road" (driven), "float" or "site" (site to site). works_on: "road" or "site". Registration and road
    rules stop only a road leg. line_id: the hire line that asks, so that it does not clash with itself.
    """

    start: datetime
    end: datetime
    leaves_by: str = "road"
    works_on: str = "road"
    line_id: UUID | None = None
    # False: nobody takes the cart through the gate for this window, since it is out already or is not promised. The
    # walks asked for at the gate are then not missed; everything else counts as ever.
    asks_gate: bool = True
    # True: hired to carry drinking water, so the tank's history counts.
    is_potable: bool = False
    # Under whose road rules it works; "": the yard's alone.
    rule_set: str = ""
    # When it was loaded on the float it leaves on: the checks signed until then are judged for that moment. None: for the start.
    loaded_at: datetime | None = None
    # True: `at` has gone by, and what was written down since counts for nothing. All windows asked together, or none.
    as_then: bool = False

    def __post_init__(self) -> None:
        if self.end <= self.start:
            raise ValueError("A window ends after it starts.")

    def judged_for(self, signed_at: datetime) -> datetime:
        """The moment a check signed then has to hold at: on a float nobody can walk the cart round again."""
        return self.loaded_at if self.loaded_at is not None and signed_at <= self.loaded_at else self.start

    @property
    def uses_road(self) -> bool:
        return "road" in (self.leaves_by, self.works_on)


@dataclass(frozen=True)
class Record:
    """The row behind a finding; fleet.records gives its page."""

    kind: str
    id: UUID


@dataclass(frozen=True)
class Blocker:
    """Stops a handover at the window's start. `weight`: lower is worse. `passed_by`: roles that may pass it by authority."""

    code: str
    sentence: str
    record: Record
    cleared_by: frozenset[Role]
    clear_words: str
    weight: int = 50
    passed_by: frozenset[Role] = frozenset()
    # When somebody found it, where somebody did; None: a date or a figure on record says it.
    found_at: datetime | None = None


@dataclass(frozen=True)
class Caution:
    """May go, but this falls due inside the window, or must be done before it. `due_at` null: no date is known;
    `weight` orders what falls due at one instant, lower first."""

    code: str
    sentence: str
    record: Record
    due_at: datetime | None
    short: str
    weight: int = 50


@dataclass(frozen=True)
class GoesWith:
    """A limit the cart goes with, printed at the top of its certificate."""

    sentence: str
    record: Record


@dataclass(frozen=True)
class Passed:
    """A blocker passed by authority, with the pass that says so."""

    blocker: Blocker
    given: Pass


@dataclass(frozen=True)
class Findings:
    blockers: tuple[Blocker, ...] = ()
    cautions: tuple[Caution, ...] = ()
    limits: tuple[GoesWith, ...] = ()


class Provider(Protocol):
    def __call__(
        self, carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime
    ) -> Mapping[UUID, Findings]:
        """Findings by cart id, each cart judged for its own window; queries must not grow with the carts."""
        ...


@dataclass(frozen=True)
class Readiness:
    """The answer for one cart. Blockers worst first; cautions soonest first."""

    cart_id: UUID
    window: Window
    at: datetime
    blockers: tuple[Blocker, ...] = ()
    cautions: tuple[Caution, ...] = ()
    limits: tuple[GoesWith, ...] = ()
    passed: tuple[Passed, ...] = field(default=())

    @property
    def may_go(self) -> bool:
        return not self.blockers

    @property
    def state(self) -> str:
        """held, limits (goes with limits or a pass) or ready."""
        if self.blockers:
            return "held"
        return "limits" if self.limits or self.passed else "ready"


_providers: dict[str, Provider] = {}


def register_provider(name: str, provider: Provider) -> None:
    """Tell readiness of an app's provider. ValueError when the name already has another."""
    if _providers.get(name, provider) is not provider:
        raise ValueError(f"Readiness already has a provider named {name!r}.")
    _providers[name] = provider


def provider_names() -> frozenset[str]:
    return frozenset(_providers)


def _ask(
    name: str, provider: Provider, carts: Sequence[Cart], windows: Mapping[UUID, Window], at: datetime
) -> Mapping[UUID, Findings]:
    try:
        if not connection.in_atomic_block:
            return provider(carts, windows=windows, at=at)
        # A failed query inside somebody's transaction must not take the whole transaction with it.
        with transaction.atomic():
            return provider(carts, windows=windows, at=at)
    except Exception:
        log.exception("readiness.provider_failed", extra={"facts": {"provider": name}})
        return {
            cart.pk: Findings(
                blockers=(
                    Blocker(
                        code=f"{name}.could_not_be_checked",
                        sentence=f"Could not be checked: the {name} records did not answer. Try again, or tell the fleet manager.",
                        record=Record("cart", cart.pk),
                        cleared_by=frozenset({Role.FLEET_MANAGER}),
                        clear_words="Fleet manager, once the records answer again",
                        weight=0,
                    ),
                )
            )
            for cart in carts
        }


def of_then(windows: Mapping[UUID, Window]) -> bool:
    """Whether these windows ask of a moment gone by."""
    return any(window.as_then for window in windows.values())


def stood(opened: str, closed: str, *, at: datetime, windows: Mapping[UUID, Window]) -> Q:
    """What stands: not closed; where the windows ask of a moment gone by, what stood then. opened, closed: its fields."""
    return stood_at(opened, closed, at=at) if of_then(windows) else Q(**{closed: None})


def stood_at(opened: str, closed: str, *, at: datetime) -> Q:
    """What stood at a moment gone by: opened by then, and closed after it or not at all."""
    return Q(**{f"{opened}__lte": at}) & (Q(**{closed: None}) | Q(**{f"{closed}__gt": at}))


def _open_passes(
    carts: Sequence[Cart], windows: Mapping[UUID, Window], at: datetime
) -> dict[tuple[str, str, UUID], Pass]:
    stands = stood("given_at", "closed_at", at=at, windows=windows)
    passes = Pass.objects.filter(
        stands, unconfirmed_counts(at=at), cart__in=carts, given_at__lte=at, ends_at__gt=at
    ).select_related("given_by", "entered_by", "second_person")
    return {(given.rule, given.record_kind, given.record_id): given for given in passes}


def _judge(
    cart: Cart,
    found: Iterable[Findings],
    passes: Mapping[tuple[str, str, UUID], Pass],
    window: Window,
    at: datetime,
) -> Readiness:
    blockers: list[Blocker] = []
    passed: list[Passed] = []
    cautions: list[Caution] = []
    limits: list[GoesWith] = []
    for findings in found:
        for blocker in findings.blockers:
            given = passes.get((blocker.code, blocker.record.kind, blocker.record.id))
            # A pass on something that may never be passed counts for nothing, however it came to be there.
            if given is not None and blocker.passed_by:
                passed.append(Passed(blocker, given))
            else:
                blockers.append(blocker)
        cautions.extend(findings.cautions)
        limits.extend(findings.limits)
    return Readiness(
        cart_id=cart.pk,
        window=window,
        at=at,
        blockers=tuple(sorted(blockers, key=lambda item: (item.weight, item.sentence))),
        cautions=tuple(
            sorted(cautions, key=lambda item: (item.due_at is None, item.due_at, item.weight, item.sentence))
        ),
        limits=tuple(limits),
        passed=tuple(passed),
    )


def readiness_each(
    carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime
) -> dict[UUID, Readiness]:
    """Readiness of many carts, each for its own window, as known at `at` (aware), by cart id.

    Queries do not grow with the carts. KeyError when a cart has no window.
    """
    if not carts:
        return {}
    answers = [_ask(name, provider, carts, windows, at) for name, provider in sorted(_providers.items())]
    passes, empty = _open_passes(carts, windows, at), Findings()
    return {
        cart.pk: _judge(
            cart, (answer.get(cart.pk, empty) for answer in answers), passes, windows[cart.pk], at
        )
        for cart in carts
    }


def readiness_of(carts: Sequence[Cart], *, window: Window, at: datetime) -> dict[UUID, Readiness]:
    """Readiness of many carts for one window, by cart id."""
    return readiness_each(carts, windows={cart.pk: window for cart in carts}, at=at)


def readiness(cart: Cart, *, window: Window, at: datetime) -> Readiness:
    return readiness_of([cart], window=window, at=at)[cart.pk]
