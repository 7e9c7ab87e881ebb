"""A paper's content as the ready words and pictures its page prints: one context for archive file and web page."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.safestring import mark_safe

from inspections.certificates import words
from inspections.certificates.content import CAUTIONS, HandoverReceipt, Paper, PreHireCertificate
from inspections.certificates.parts import (
    Defect,
    Limit,
    Method,
    Pass,
    Result,
    Station,
    Tyre,
)
from inspections.certificates.pictures import lap, lap_shape, picture_rows, signed
from inspections.certificates.qr import qr_svg
from people.words import in_words, wording

Pair = tuple[str, str]

TITLES = {"pre_hire_certificate": "Pre-hire certificate", "handover_receipt": "Handover receipt"}
ENDS = {"pre_hire_certificate": "End of certificate", "handover_receipt": "End of receipt"}


@dataclass(frozen=True, slots=True)
class Row:
    """One answered check as its line: the answer's word, what was looked at, the value, and what there is to add."""

    shape: str
    answer: str
    look: str
    value: str
    rest: str


@dataclass(frozen=True, slots=True)
class Block:
    """A heading with a line of plain words under it, and named particulars."""

    heading: str
    line: str
    pairs: tuple[Pair, ...] = ()


@dataclass(frozen=True, slots=True)
class Stop:
    """A place on the lap: its name, where it comes in the order, and its rows."""

    label: str
    place_in_order: str
    rows: tuple[Row, ...]


def present(paper: Paper, *, photo_urls: Mapping[str, str], lap_svg: str) -> dict[str, object]:
    """Return the context of templates/certificates/page.html for a paper.

    `photo_urls` gives each photo's address by its `print_sha256`; `lap_svg` is the cart's lap drawing, trusted markup.
    KeyError for a photo without an address.
    """
    record_sha256 = paper.record_sha256
    general = {in_words(line, wording(paper.words)) for line in CAUTIONS}
    context: dict[str, object] = {
        "paper": paper,
        "record_sha256": record_sha256,
        "title": TITLES[paper.kind],
        "full_title": f"{TITLES[paper.kind]} {paper.number} for {paper.cart.fleet_number}",
        "end": f"{ENDS[paper.kind]} {paper.number}",
        "issued": words.moment(paper.issued_at),
        "zone": f"{words.offset(paper.issued_at)}, {paper.time_zone.replace('_', ' ')}",
        "cart_line": _cart_line(paper),
        # What is said of this cart alone, its road fill, stands on the front; what every paper says, at its end.
        "on_road": tuple(line for line in paper.cautions if line not in general),
        "cautions": tuple(line for line in paper.cautions if line in general),
        "address_host": paper.verify.address.removesuffix(paper.verify.code),
        "lap": lap(lap_svg, paper.cart.fleet_number),
        "lap_shape": lap_shape(lap_svg),
        "qr": mark_safe(qr_svg(paper.verify.url, title=f"QR code of the verify page, {paper.verify.url}")),  # noqa: S308
        "limits": tuple(_limit(limit) for limit in paper.limits),
        "passes": tuple(_pass(given) for given in paper.passes),
        "parties": _parties(paper),
        "method": _method(paper.method),
        "tally": words.tally(paper.stations),
        "stops": _stops(paper.stations),
        "unchecked": _unchecked(paper.stations),
        "defects": tuple(_defect(defect) for defect in paper.defects),
        "readings": tuple(
            (r.name, words.measured(r.value, r.unit), words.moment(r.read_at)) for r in paper.readings
        ),
        "tyres": tuple(_tyre(tyre) for tyre in paper.tyres),
        "tyres_measured": _measured_on(paper),
        "extinguishers": _extinguishers(paper),
        "picture_rows": picture_rows(paper, photo_urls),
        "signed": tuple(signed(signature) for signature in paper.signatures),
        "rule_set": words.RULE_SETS.get(paper.rule_set, paper.rule_set),
        "foot": _foot(paper, record_sha256),
    }
    extra = _certificate(paper) if isinstance(paper, PreHireCertificate) else _receipt(paper)
    return context | extra


def _certificate(paper: PreHireCertificate) -> dict[str, object]:
    return {
        "certificate": True,
        "shape": paper.outcome,
        "headline": words.OUTCOMES[paper.outcome],
        "holds": f"Holds until the cart is moved or worked on, at the latest {words.moment(paper.holds_until_at)}."
        + (f" {paper.holds_longer}" if paper.holds_longer else ""),
        "documents": tuple(
            (d.kind, d.number, words.day(d.valid_until_on) if d.valid_until_on else "no end date", d.note)
            for d in paper.documents
        ),
    }


def _receipt(paper: HandoverReceipt) -> dict[str, object]:
    left = paper.left
    return {
        "certificate": False,
        "shape": "signed" if paper.received else "left",
        "headline": "Signed for" if paper.received else "Left, nobody present",
        "handed_over": f"{words.moment(paper.handed_over_at)}, {paper.handed_over_place}, {paper.how}.",
        "rests_on": f"revision {paper.certificate.revision}, issued {words.moment(paper.certificate.issued_at)}",
        "received": signed(paper.received) if paper.received else None,
        "left": left,
        "left_when": words.moment(left.left_at) if left else "",
        "left_photos": words.photo_numbers(left.photos) if left else "",
        "condition": tuple((c.place, c.words, words.photo_numbers(c.photos)) for c in paper.condition),
        "items": tuple((item.name, str(item.count), item.serial) for item in paper.items),
    }


def _cart_line(paper: Paper) -> str:
    cart = paper.cart
    tank = f"{words.litres(cart.tank_l)} {cart.tank_material} tank" if cart.tank_l else ""
    made = words.joined(f"{cart.make} {cart.model}", str(cart.build_year) if cart.build_year else "")
    return words.joined(made, tank, cart.axles, cart.steering_side)


def _parties(paper: Paper) -> tuple[Block, ...]:
    customer, hire = paper.customer, paper.hire
    end = words.moment(hire.ends_at) if hire.ends_at else "open, until called off"
    return (
        Block(
            "For",
            customer.name,
            (
                ("Contact", words.joined(customer.contact_name, customer.phone, customer.email)),
                ("Address", words.joined(*customer.address)),
            ),
        ),
        Block(
            "Hire",
            words.joined(
                f"Agreement {hire.agreement}", f"order {hire.order_number}" if hire.order_number else ""
            ),
            (
                ("Place of work", hire.place_of_work),
                ("Period", f"{words.moment(hire.starts_at)} to {end}"),
                ("Leaves", hire.leaves),
                ("Works", hire.works),
            ),
        ),
    )


def _method(method: Method) -> tuple[Pair, ...]:
    return (
        ("Sheet", f"{method.sheet}, issue {method.edition}"),
        ("Done at", method.place),
        ("Done on", words.span(method.started_at, method.signed_at)),
        ("Walk-round", method.walk_round_id),
        ("Its record", words.short_hash(method.walk_round_sha256)),
        ("The sheet’s text", words.short_hash(method.edition_sha256)),
    )


def _limit(limit: Limit) -> Block:
    tag = f"Tag {limit.tag}" if limit.tag else "Tagged" if limit.told == "Isolated" else ""
    said = words.joined(tag, limit.by, limit.role, words.moment(limit.tagged_at))
    return Block(_bare(limit.what), limit.why, ((limit.told, said),))


def _passed_by(given: Pass) -> tuple[str, str]:
    """Who passed it; of one given by phone also who entered it, with both times, and whether it was confirmed."""
    if given.spoken_at is None:
        return "Passed by", words.joined(given.by, given.role, words.moment(given.given_at))
    spoken = words.joined(given.by, given.role)
    entered = f"entered by {given.entered_by} at {words.moment(given.given_at)}"
    told = f"confirmed {words.moment(given.confirmed_at)}" if given.confirmed_at else "not yet confirmed"
    return "Passed by phone by", f"{spoken}, at {words.moment(given.spoken_at)}, {entered}; {told}"


def _pass(given: Pass) -> Block:
    ends = words.joined(
        words.moment(given.ends_at) if given.ends_at else "", given.ends_when, by=", or when "
    )
    second = words.joined(given.second_name, given.second_role)
    pairs = (
        ("Why", given.reason),
        _passed_by(given),
        ("Second name", second),
        ("Ends", ends),
        ("On condition", given.condition),
        ("Done instead", given.done_instead),
        ("Told", given.told),
    )
    return Block(_bare(given.rule), given.found, _said(pairs))


def _stops(stations: tuple[Station, ...]) -> tuple[Stop, ...]:
    return tuple(
        Stop(station.label, f"{place} of {len(stations)}", tuple(_row(result) for result in station.results))
        for place, station in enumerate(stations, start=1)
    )


def _row(result: Result) -> Row:
    value = words.measured(result.value, result.unit)
    limit = words.joined(result.limit, result.verdict)
    grade = words.GRADES[result.grade].lower() if result.grade else ""
    why = words.WHY_NOT.get(result.why, result.why)
    rest = words.joined(limit, why, grade, result.words, words.photo_numbers(result.photos), by="; ")
    return Row(
        shape=result.answer.replace("_", "-"),
        answer=words.ANSWERS[result.answer],
        look=f"{result.number}\u00a0\u00a0{words.joined(result.title, result.place)}",
        value=value,
        rest=rest,
    )


def _unchecked(stations: tuple[Station, ...]) -> tuple[str, ...]:
    return tuple(
        words.joined(
            f"{result.number} {result.title}", result.place, words.WHY_NOT.get(result.why, ""), result.words
        )
        for station in stations
        for result in station.results
        if result.answer == "could_not_check"
    )


def _defect(defect: Defect) -> Block:
    grade = words.GRADES[defect.grade]
    due = {"by_date": "Repair by", "watch": "Look again by"}.get(defect.grade, "By")
    pairs = (
        ("Grade", grade + (", isolated and tagged out of use" if defect.isolated else "")),
        (due, words.day(defect.due_on) if defect.due_on else ""),
        ("First told", words.moment(defect.told_at)),
        ("Now", defect.state),
        ("Shown in", words.photo_numbers(defect.photos)),
        ("Number", defect.reference),
    )
    heading = words.joined(defect.title, defect.place)
    return Block(heading, defect.words, _said(pairs))


def _said(pairs: tuple[Pair, ...]) -> tuple[Pair, ...]:
    return tuple((name, _bare(value)) for name, value in pairs if value)


def _bare(text: str) -> str:
    # Each is printed with a full stop of its own, so one that somebody typed would stand twice.
    return text.rstrip(". ")


def _tyre(tyre: Tyre) -> tuple[str, str, str, str]:
    rest = words.joined(f"change out at {tyre.limit_mm} mm", tyre.make, tyre.note)
    return tyre.position, tyre.place, f"{tyre.depth_mm}\u00a0mm", rest


def _measured_on(paper: Paper) -> str:
    days = sorted({tyre.measured_on for tyre in paper.tyres})
    return " and ".join(words.day(on) for on in days)


def _extinguishers(paper: Paper) -> tuple[Block, ...]:
    return tuple(
        Block(
            extinguisher.serial,
            words.joined(extinguisher.kind, extinguisher.place, extinguisher.note),
            tuple((due.kind, words.day(due.due_on)) for due in extinguisher.dates),
        )
        for extinguisher in paper.extinguishers
    )


def _foot(paper: Paper, record_sha256: str) -> dict[str, str]:
    return {
        "number": f"{TITLES[paper.kind]} {paper.number}, revision {paper.revision}",
        "issued": f"Issued {words.moment(paper.issued_at)} {words.offset(paper.issued_at)}",
        "record": f"Record {words.short_hash(record_sha256)}",
        "verify": paper.verify.address,
    }
