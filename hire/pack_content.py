"""What a site pack says, from the records as they stand: plain text, frozen with the pack. What is missing is said as missing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from django.conf import settings

from fleet.models.equipment import DOCUMENT_KINDS
from fleet.models.water import WaterCarried
from fleet.water_standing import CAUTION, standing_of
from fleet.water_told import Told, told_of
from hire.actions.gate import valid_certificate
from hire.models.agreements import Line
from hire.pack_operators import missing_of, pack_operators
from hire.site_check import lacking_of
from hire.site_facts import Use, facts_of, set_of, site_of
from hire.site_rules import WASH_DOWN, Asked, CartFacts, PaperAsked, best_paper, day_words, paper_fault
from people.yard import yard_day
from servicing.due import extinguishers_for, services_due
from servicing.extinguishers import DUE_WORDS, KIND_WORDS
from servicing.models.plans import ServiceDue
from servicing.service_book import latest_done

# In every pack, asked or not; others where the site asks for them or they are on record.
ALWAYS = ("registration", "insurance", "plant_risk", "noise", WASH_DOWN)
MOST_FILLS = 12
NOT_ISSUED = "is not issued yet; it comes once the pre-hire check is signed"


def used_on(line: Line, *, at: datetime) -> date:
    """The day of use: the day the cart is promised for, or today once that is past."""
    return max(yard_day(line.promised.lower), yard_day(at))


def _day(on: date | None) -> str:
    return day_words(on) if on else ""


def _kinds(facts: CartFacts, asked: Asked) -> Iterator[str]:
    for kind, _ in DOCUMENT_KINDS:
        has_frame = kind == "rops_plate" and "rops" in facts.gear
        if kind in ALWAYS or kind in asked.papers or kind in facts.papers or has_frame:
            yield kind


def _paper(kind: str, facts: CartFacts, wanted: PaperAsked | None, *, on: date) -> dict[str, Any]:
    held = best_paper(facts.papers.get(kind, ()), on=on)
    age = f"{wanted.max_age_days} days at most" if wanted and wanted.max_age_days is not None else ""
    return {
        "what": dict(DOCUMENT_KINDS)[kind],
        "number": held.number if held else "",
        "issued": _day(held.issued_on if held else None),
        "expires": _day(held.expires_on if held else None),
        "age_asked": age,
        "is_asked": wanted is not None,
        "fault": paper_fault(held, wanted, on=on),
    }


def _certificate(line: Line) -> dict[str, Any] | None:
    paper = valid_certificate(line)
    if paper is None:
        return None
    return {
        "id": str(paper.pk),
        "number": paper.number,
        "issued": _day(yard_day(paper.issued_at)),
        "record_sha256": paper.record_sha256,
        "verify": f"{settings.PUBLIC_ADDRESS}/v/{paper.code}/".split("://", 1)[1].rstrip("/"),
    }


def _services(line: Line, *, at: datetime) -> list[dict[str, Any]]:
    """The latest of each service that comes round, and when it comes again."""
    due = {one.plan.name: one for one in ServiceDue.objects.filter(cart=line.cart_id).select_related("plan")}
    done = {name: one for (_, name), one in latest_done([line.cart], at=at).items()}
    rows = []
    for name in sorted(due.keys() | done.keys()):
        last, after = done.get(name), due.get(name)
        rows.append(
            {
                "name": name,
                "done": _day(yard_day(last.done_at) if last else None),
                "engine_hours": str(last.engine_hours) if last and last.engine_hours is not None else "",
                "km": str(last.km) if last and last.km is not None else "",
                "by": last.by_words if last else "",
                "next": _day((after.on or after.due_on) if after else None),
            }
        )
    return rows


def _extinguishers(line: Line, *, on: date) -> list[dict[str, Any]]:
    return [
        {
            "what": str(item),
            "place": item.bracket or "in its bracket",
            "stamped": [
                {"kind": KIND_WORDS.get(one.kind, one.kind), "on": _day(one.on), "by": one.by_words}
                for one in list(item.services.all())[-3:]
            ],
            "due": [{"kind": DUE_WORDS[one.kind], "on": _day(one.on)} for one in services_due(item, on=on)],
        }
        for item in extinguishers_for([line.cart]).get(line.cart_id, [])
    ]


def _water(line: Line) -> dict[str, Any] | None:
    """The tank's history, where the hire carries potable water."""
    if line.agreement.water != "potable":
        return None
    fills = WaterCarried.objects.filter(cart=line.cart_id, struck_at=None)[:MOST_FILLS]
    found = [
        (one.filled_at, one.get_source_display(), one.place_words, one.permit_words) for one in fills
    ] + [
        (one.at, one.what, _told_words(one, line), "")
        for one in told_of([line.cart], whole=True).get(line.cart_id, ())
    ]
    newest = sorted(found, key=lambda one: one[0], reverse=True)[:MOST_FILLS]
    rows = [
        {"source": source, "on": _day(yard_day(at)), "place": place, "permit": permit}
        for at, source, place, permit in newest
    ]
    return {"standing": standing_of(line.cart).sentence, "fills": rows, "caution": CAUTION}


def _told_words(one: Told, line: Line) -> str:
    """What was told of the water of a hire; of another hire than this, not whose or where: the pack goes to another site."""
    _, _, how = one.words.partition(", ")
    if one.record.id != line.pk:
        return f"on another hire, {how}"
    return "; ".join([f"on this hire, {how}", *one.places])


def _declaration(papers: list[dict[str, Any]]) -> str:
    """What the yard declares of weeds and soil: only what its record bears out."""
    wash = next(one for one in papers if one["what"] == dict(DOCUMENT_KINDS)[WASH_DOWN])
    if wash["fault"]:
        return f"No declaration is made: the wash-down paper {wash['fault']}."
    when = f" on {wash['issued']}" if wash["issued"] else ""
    number = wash["number"] or "without a number"
    return (
        f"By the yard’s record the cart was washed down and looked over for soil, seeds and plants{when}, paper {number}, and has "
        "not worked at another site since. This holds until it works elsewhere."
    )


def _missing(body: dict[str, Any], others: list[str]) -> list[str]:
    found = [] if body["certificate"] else [f"The pre-hire certificate {NOT_ISSUED}."]
    found += [f"{one['what']} {one['fault']}." for one in body["papers"] if one["fault"]]
    if not body["services"]:
        found.append("No service is on record.")
    if not body["extinguishers"]:
        found.append("No extinguisher is on record as aboard.")
    return found + [f"Asked by the site: {words}." for words in others]


def pack_body(line: Line, *, at: datetime) -> dict[str, Any]:
    """The whole content of a pack for a hire's site."""
    on, found, cart = used_on(line, at=at), set_of(line), line.cart
    asked = found.asked() if found else Asked()
    start = max(line.promised.lower, at)
    end = max(line.promised.upper, start)
    facts = facts_of([cart], uses={cart.pk: Use(site_of(line), start, line.pk)})[cart.pk]
    lacking = lacking_of(asked, facts, start=start, end=end)
    body: dict[str, Any] = {
        "site_set": {"name": found.name, "issue": found.issue} if found else None,
        "cart": {
            "fleet_number": cart.fleet_number, "plate": cart.plate, "vin": cart.vin, "make_model": cart.make_model,
            "build_year": cart.build_year, "tank_l": cart.tank_capacity_l,
        },
        "certificate": _certificate(line),
        "papers": [_paper(kind, facts, asked.papers.get(kind), on=on) for kind in _kinds(facts, asked)],
        "services": _services(line, at=at),
        "extinguishers": _extinguishers(line, on=on),
        "operators": pack_operators(line, start=start, end=end),
        "noise_db": str(facts.noise_db) if facts.noise_db is not None else "",
        "water": _water(line),
        "axles": asked.axles,
        "notes": asked.notes,
        "while_out": [one.what for one in lacking if one.from_on is not None],
    }  # fmt: skip
    body["declaration"] = _declaration(body["papers"])
    others = [one.what for one in lacking if one.kind != "paper"]
    body["missing"] = [*_missing(body, others), *missing_of(line, body["operators"])]
    return body
