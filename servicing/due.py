"""What servicing says of a cart: extinguishers by their dates, tyres by their last believed depth."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from itertools import chain
from uuid import UUID

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery

from fleet.models.carts import Cart, Fitment
from fleet.models.equipment import Extinguisher, ExtinguisherService
from fleet.models.weights import RULE_SETS
from fleet.models.wheels import TreadReading, TyreFitting
from fleet.readiness import Blocker, Caution, Findings, Record, Window
from fleet.tread_limits import judge, strictest, withdrawal_limit
from people.roles import MANAGERS, Role
from people.yard import at_local, yard_day, yard_policy
from servicing.extinguishers import DUE_WORDS, DueService, due_dates, end_of_life
from servicing.service_due import service_findings
from servicing.wheel_due import age_findings, forecast_findings, made_before, retorque_findings

HALF_MM = Decimal("0.5")
WORKSHOP_WORDS = "Workshop manager, with a serviced or spare extinguisher"


def services_due(extinguisher: Extinguisher, *, on: date) -> tuple[DueService, ...]:
    """Due services of a loaded extinguisher (its services prefetched), and its end of life where the rule set has one,
    soonest first.

    A monthly look is somebody's glance at the gauge, asked for by the check sheets; it is not a service that
    holds a cart, so it is left out here.
    """
    regime = yard_policy().rule_set
    ends = end_of_life(regime=regime, agent=extinguisher.agent, made_on=extinguisher.made_on)
    due = due_dates(
        regime=regime,
        agent=extinguisher.agent,
        made_on=extinguisher.made_on,
        events=[(service.kind, service.on) for service in extinguisher.services.all()],
        on=on,
    )
    services = [service for service in due if service.kind != "monthly_look"]
    return tuple(sorted([*services, *([ends] if ends else [])], key=lambda service: service.on))


def extinguishers_for(carts: Sequence[Cart]) -> dict[UUID, list[Extinguisher]]:
    """Extinguishers on each cart, with services, in two queries."""
    services = Prefetch("services", ExtinguisherService.objects.order_by("on"))
    found: defaultdict[UUID, list[Extinguisher]] = defaultdict(list)
    for extinguisher in Extinguisher.objects.filter(cart__in=carts).prefetch_related(services):
        if extinguisher.cart_id is not None:
            found[extinguisher.cart_id].append(extinguisher)
    return found


def _extinguisher(cart: Cart, item: Extinguisher, window: Window, spares: int) -> Findings:
    record = Record("cart", cart.pk)
    if item.is_discharged:
        sentence = f"Extinguisher {item.serial} is used or out of the green."
        return Findings(
            blockers=(
                Blocker("extinguisher.discharged", sentence, record, MANAGERS, WORKSHOP_WORDS, weight=15),
            )
        )
    soonest = services_due(item, on=yard_day(window.start))[0]
    what = DUE_WORDS[soonest.kind]
    if soonest.on <= yard_day(window.start):
        return Findings(
            blockers=(
                Blocker(
                    code="extinguisher.due",
                    sentence=f"Extinguisher {item.serial}: its {what} fell due on {soonest.on:%-d %b %Y}.",
                    record=Record("extinguisher", item.pk),
                    cleared_by=MANAGERS,
                    clear_words=WORKSHOP_WORDS,
                    weight=25,
                    # A lapsed but green one may go on site alone, and only beside a second one that is in date.
                    passed_by=MANAGERS if spares and window.works_on == "site" else frozenset(),
                ),
            )
        )
    if soonest.on < yard_day(window.end):
        return Findings(
            cautions=(
                Caution(
                    code="extinguisher.due",
                    sentence=f"Extinguisher {item.serial}: its {what} falls due on {soonest.on:%-d %b %Y}.",
                    record=Record("extinguisher", item.pk),
                    due_at=at_local(soonest.on, time.min),
                    short=f"an extinguisher's {what}",
                ),
            )
        )
    return Findings()


def _extinguishers(
    carts: Sequence[Cart], windows: Mapping[UUID, Window]
) -> defaultdict[UUID, list[Findings]]:
    wanted = {
        row["cart_id"]: row["count"]
        for row in Fitment.objects.filter(cart__in=carts, kind="extinguisher", removed_on=None).values(
            "cart_id", "count"
        )
    }
    aboard = extinguishers_for(carts)
    answers: defaultdict[UUID, list[Findings]] = defaultdict(list)
    for cart in carts:
        items, window = aboard.get(cart.pk, []), windows[cart.pk]
        in_date = [
            item
            for item in items
            if not item.is_discharged
            and services_due(item, on=yard_day(window.start))[0].on > yard_day(window.start)
        ]
        for item in items:
            answers[cart.pk].append(
                _extinguisher(cart, item, window, len([one for one in in_date if one.pk != item.pk]))
            )
        missing = wanted.get(cart.pk, 0) - len(items)
        if missing > 0:
            sentence = (
                f"{missing} of the {wanted[cart.pk]} extinguishers that belong on this cart missing from it."
            )
            blocker = Blocker(
                "extinguisher.missing", sentence, Record("cart", cart.pk), MANAGERS, WORKSHOP_WORDS, weight=15
            )
            answers[cart.pk].append(Findings(blockers=(blocker,)))
    return answers


def _fittings_on(carts: Sequence[Cart]) -> QuerySet[TyreFitting]:
    fittings = TyreFitting.objects.filter(wheel_position__cart__in=carts, period__upper_inf=True)
    return fittings.order_by("wheel_position__axle", "wheel_position__code")


def current_fittings(carts: Sequence[Cart]) -> list[TyreFitting]:
    """Tyres now on these carts, each with `last_depth_mm` and `last_read_at` (None: never measured), in one query."""
    last = TreadReading.objects.filter(fitting=OuterRef("pk")).order_by("-read_at")
    return list(
        _fittings_on(carts)
        .annotate(
            last_depth_mm=Subquery(last.values("depth_mm")[:1]),
            last_read_at=Subquery(last.values("read_at")[:1]),
        )
        .select_related("wheel_position", "tyre")
    )


def worn_fittings(carts: Sequence[Cart], *, on: date, rule_sets: Collection[str] = ()) -> list[TyreFitting]:
    """Of the tyres now on these carts, those that no position's change-out depth would pass unasked or that are too old for
    a steer axle on `on`, each with `least_depth_mm` and `least_read_at`, in one query. The least of a tyre's readings counts, as
    for its alert: rubber does not grow. rule_sets: of the hires asked about, beside the yard's.

    Nine tyres in ten are far from any limit; leaving them in the database is what keeps a board of carts quick.
    """
    policy = yard_policy()
    deepest = max(
        withdrawal_limit(rule_set=rules, position=place, yard_mm=yard_mm).depth_mm
        for rules in {policy.rule_set, *rule_sets}
        for place, yard_mm in (("steer", policy.tread_steer_mm), ("other", policy.tread_other_mm))
    )
    readings = TreadReading.objects.filter(fitting=OuterRef("pk")).order_by("depth_mm")
    least = _fittings_on(carts).annotate(
        least_depth_mm=Subquery(readings.values("depth_mm")[:1]),
        least_read_at=Subquery(readings.values("read_at")[:1]),
    )
    asked = Q(least_depth_mm__lt=deepest) | Q(wheel_position__steers=True, tyre__made_on__lt=made_before(on))
    return list(least.filter(asked).select_related("wheel_position", "tyre"))


def _whose(rules: str) -> str:
    """Which law asks for it, where that is not the yard's own."""
    return (
        ""
        if rules == yard_policy().rule_set
        else f", {dict(RULE_SETS)[rules]} rules, under which this hire works"
    )


def _tyre(fitting: TyreFitting, window: Window) -> Findings:
    """By the stricter of the yard's rule set and the hire's."""
    position, depth = fitting.wheel_position, fitting.least_depth_mm  # type: ignore[attr-defined] # annotated
    if depth is None:
        return Findings()
    policy, place = yard_policy(), "steer" if position.steers else "other"
    rules = strictest([policy.rule_set, window.rule_set or policy.rule_set], position=place)
    verdict = judge(
        depth_mm=depth,
        rule_set=rules,
        position=place,
        yard_mm=policy.tread_steer_mm if position.steers else policy.tread_other_mm,
    )
    if verdict.state == "sound":
        return Findings()
    legal = verdict.state == "under_yard"
    limit = verdict.withdrawal if legal else verdict.legal
    sentence = f"Tyre at {position.words} measured {depth} mm, " + (
        f"change out at {limit.depth_mm.normalize():f} mm."
        if legal
        else f"below the legal {limit.as_written}{_whose(rules)}."
    )
    return Findings(
        blockers=(
            Blocker(
                code="tyre.change_out" if legal else "tyre.below_legal",
                sentence=sentence,
                record=Record("tyre_fitting", fitting.pk),
                cleared_by=MANAGERS,
                clear_words="Workshop manager, with a tyre change",
                weight=18 if legal else 11,
                # The yard's own figure may be passed by the workshop manager above legal + 0.5 mm; the law's never.
                passed_by=frozenset({Role.WORKSHOP_MANAGER})
                if legal and depth >= verdict.legal.depth_mm + HALF_MM
                else frozenset(),
                found_at=fitting.least_read_at,  # type: ignore[attr-defined] # annotated
            ),
        )
    )


def findings(carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime) -> dict[UUID, Findings]:
    """Ten queries however many carts: extinguishers wanted, aboard, their services; tyres worn or old, tyres forecast to be
    down inside the window, wheel nuts to be checked again; services that come round, the meters, offers on site, workshop days."""
    answers = _extinguishers(carts, windows)
    latest, held = yard_day(max(window.end for window in windows.values())), set()
    rule_sets = {window.rule_set for window in windows.values() if window.rule_set}
    for fitting in worn_fittings(carts, on=latest, rule_sets=rule_sets):
        window = windows[fitting.wheel_position.cart_id]
        found = _tyre(fitting, window)
        if found.blockers:
            held.add(fitting.pk)
        answers[fitting.wheel_position.cart_id] += [found, age_findings(fitting, window)]
    more = (
        forecast_findings(carts, windows, held=held),
        retorque_findings(carts, windows, at=at),
        service_findings(carts, windows=windows, at=at).items(),
    )
    for cart_id, found in chain.from_iterable(more):
        answers[cart_id].append(found)
    return {
        cart_id: Findings(
            tuple(item for one in pile for item in one.blockers),
            tuple(item for one in pile for item in one.cautions),
        )
        for cart_id, pile in answers.items()
    }
