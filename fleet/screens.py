"""Ready words for the cart pages: what stops a cart with the way on, and what is known of it, section by section."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from fleet.addresses import known_record_url, walk_url
from fleet.models.carts import Cart
from fleet.models.standing import Pass
from fleet.passing import may_pass
from fleet.readiness import Blocker, Caution, Readiness, Record
from people.models import Staff
from people.roles import AT_THE_GATE, WALKERS

# A blocker whose record is the cart itself is dealt with on the cart's own page, in this section.
SECTIONS = {"hold": "holds", "document": "papers", "extinguisher": "extinguishers", "water": "water"}
LABELS = {
    "defect": "Open the defect",
    "hire_line": "Open the hire",
    "walk_round": "Open the walk-round",
    "extinguisher": "Open the extinguisher",
    "tyre_fitting": "Open the tyre",
}


@dataclass(frozen=True)
class Way:
    """A link with its words; no address: nothing to open."""

    label: str
    url: str


@dataclass(frozen=True)
class Stop:
    """One thing that stops a cart: what, who can clear it, where that is done, where this person may pass it, and where they
    may enter that a manager passed it by phone."""

    what: str
    who: str
    way: Way
    pass_url: str
    phone_url: str


def way_to(cart: Cart, finding: Blocker | Caution, person: Staff) -> Way:
    """Where a finding is dealt with: a walk-round on the tablet, the record's own page, or a section of the cart's page."""
    what = finding.code.split(".")[0]
    # A check whose name is not confirmed is confirmed on its own page: walking it is not what it wants.
    if what == "walk_round" and finding.code != "walk_round.name" and person.has_role(WALKERS):
        return Way("Walk it", walk_url(cart.pk))
    record = finding.record
    if record.kind == "cart":
        section = SECTIONS.get(what)
        page = reverse("fleet:cart_detail", args=[cart.pk])
        return Way("Show it", f"{page}#{section}") if section else Way("", "")
    url = known_record_url(record.kind, record.id)
    return Way(LABELS.get(record.kind, "Open the record"), url) if url else Way("", "")


def pass_urls(cart: Cart, blocker: Blocker, *, turn: int, person: Staff) -> tuple[str, str]:
    """Where this person may pass the blocker by authority, and where they may enter that another did by phone; "" where
    nobody may, or not this person, this time. Whoever may pass it signs it."""
    allowed = may_pass(blocker, turn=turn)
    query = urlencode({"rule": blocker.code, "kind": blocker.record.kind, "record": str(blocker.record.id)})
    if person.has_role(allowed):
        return f"{reverse('fleet:pass_give', args=[cart.pk])}?{query}", ""
    if allowed and person.has_role(AT_THE_GATE):
        return "", f"{reverse('fleet:pass_enter', args=[cart.pk])}?{query}"
    return "", ""


def times_passed(cart: Cart) -> Counter[tuple[str, Record]]:
    """How often each thing of a cart was passed, by rule and record, in one query; what was disowned was never given."""
    given = Pass.objects.filter(cart=cart, disowned_at=None).values_list("rule", "record_kind", "record_id")
    return Counter((rule, Record(kind, pk)) for rule, kind, pk in given)


def stops_of(cart: Cart, answer: Readiness, *, person: Staff) -> list[Stop]:
    """What stops the cart, worst first, in one query: how often each was passed before."""
    before = times_passed(cart)
    stops = []
    for blocker in answer.blockers:
        turn = before[blocker.code, blocker.record] + 1
        give, enter = pass_urls(cart, blocker, turn=turn, person=person)
        who = f"{blocker.clear_words.rstrip('.')}."
        stops.append(Stop(blocker.sentence, who, way_to(cart, blocker, person), give, enter))
    return stops


@dataclass(frozen=True)
class Due:
    """Something that falls due while the cart is out."""

    what: str
    way: Way


def due_of(cart: Cart, cautions: Sequence[Caution], *, person: Staff) -> list[Due]:
    return [Due(caution.sentence, way_to(cart, caution, person)) for caution in cautions]


def next_step(cart: Cart, answer: Readiness, *, person: Staff) -> Way:
    """The one thing to do with a cart from a list: its worst blocker, else a check that is wanted, else its page."""
    findings: list[Blocker | Caution] = [*answer.blockers[:1]]
    findings += [caution for caution in answer.cautions if caution.code.startswith("walk_round.")][:1]
    for finding in findings:
        way = way_to(cart, finding, person)
        if way.url:
            return way
    return Way("Open it", reverse("fleet:cart_detail", args=[cart.pk]))
