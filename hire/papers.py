"""Assembling what the two papers say, from customer, cart and signed record. The content is frozen the moment it is numbered."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.conf import settings

from fleet.drawing import lap_svg
from fleet.lap.stations import STATIONS
from fleet.models.carts import Cart, MeterReading
from fleet.models.defects import Defect
from fleet.models.equipment import Document
from fleet.models.photos import Photo
from fleet.models.standing import Limit
from fleet.readiness import Passed, Readiness
from fleet.tread_limits import withdrawal_limit
from hire.models import Handover, Line
from inspections.certificates import parts
from inspections.certificates.actions import Numbered
from inspections.certificates.content import HandoverReceipt, PreHireCertificate
from inspections.certificates.models import Certificate
from inspections.limits import limit_from
from inspections.models import Answer, WalkRound
from inspections.wording import where_words
from people.journal.actions import cart_chain
from people.journal.models import ChainHead
from people.models import Staff
from people.yard import yard_day, yard_policy
from servicing.due import current_fittings, extinguishers_for, services_due
from servicing.extinguishers import KIND_WORDS

PHOTO_MOST = 24


@dataclass(frozen=True)
class Source:
    """Everything a paper is assembled from, loaded once."""

    line: Line
    cart: Cart
    walk: WalkRound
    answer: Readiness
    at: datetime
    by: Staff | None

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.line.agreement.time_zone)

    def moment(self, when: datetime) -> str:
        return when.astimezone(self.zone).isoformat(timespec="seconds")


class _Photos:
    """Numbers the pictures a paper shows, each once, up to what a paper holds."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.rows: dict[str, parts.Photo] = {}

    def add(
        self, photo: Photo, *, item: str, place: str, taken_at: datetime, caption: str = ""
    ) -> tuple[int, ...]:
        known = self.rows.get(photo.original_sha256)
        if known is None:
            if len(self.rows) >= PHOTO_MOST:
                return ()
            known = parts.Photo(
                number=len(self.rows) + 1,
                sha256=photo.original_sha256,
                print_sha256=photo.print_name.rsplit("/", 1)[-1].removesuffix(".jpg"),
                item=item,
                place=place,
                taken_at=self.source.moment(taken_at),
                width_px=photo.width_px,
                height_px=photo.height_px,
                caption=caption,
            )
            self.rows[photo.original_sha256] = known
        return (known.number,)


def _verdict_words(answer: Answer) -> str:
    if not answer.limit:
        return ""
    return "outside limit" if answer.grade else "within limit"


def _result(answer: Answer, photos: _Photos) -> parts.Result:
    taken = [
        photos.add(
            link.photo, item=answer.title, place=where_words(answer.place), taken_at=answer.answered_at
        )
        for link in answer.photos.all()
    ]
    return parts.Result(
        number=answer.number,
        check=answer.check_key,
        title=answer.title,
        answer=answer.answer,
        place=where_words(answer.place) if answer.place else "",
        why=answer.why,
        words=answer.words,
        value=answer.value or None,
        unit=answer.unit,
        limit=limit_from(answer.limit).words if answer.limit else "",
        verdict=_verdict_words(answer),
        grade=answer.grade or None,
        photos=tuple(number for numbers in taken for number in numbers),
    )


def _stations(walk: WalkRound, photos: _Photos) -> tuple[parts.Station, ...]:
    answers = list(walk.answers.order_by("number").prefetch_related("photos__photo"))
    stations = []
    for station in STATIONS:
        results = tuple(_result(answer, photos) for answer in answers if answer.station == station.key)
        if results:
            stations.append(parts.Station(key=station.key, label=station.label, results=results))
    return tuple(stations)


def _defects(source: Source, photos: _Photos) -> tuple[parts.Defect, ...]:
    isolated = set(Limit.objects.filter(cart=source.cart, lifted_at=None).values_list("defect_id", flat=True))
    rows = []
    for defect in Defect.objects.open().filter(cart=source.cart).worst_first().prefetch_related("photos"):
        numbers = [
            photos.add(photo, item=defect.title, place=where_words(defect.place), taken_at=defect.told_at)
            for photo in defect.photos.all()
        ]
        rows.append(
            parts.Defect(
                reference=str(defect.pk)[:8],
                title=defect.title,
                place=where_words(defect.place) if defect.place else "",
                grade=defect.grade,
                words=defect.words or "No further words.",
                told_at=source.moment(defect.told_at),
                due_on=defect.due_on.isoformat() if defect.due_on else None,
                state=defect.get_state_display().lower(),
                isolated=defect.pk in isolated,
                photos=tuple(number for found in numbers for number in found),
            )
        )
    return tuple(rows)


def _limits(source: Source) -> tuple[parts.Limit, ...]:
    rows = Limit.objects.filter(cart=source.cart, lifted_at=None).select_related("set_by", "defect")
    return tuple(
        parts.Limit(
            what=row.words,
            why=f"{row.defect.title}. {row.how_isolated}",
            tag=row.tag_number,
            by=row.set_by.full_name,
            role=row.set_by.role_label,
            tagged_at=source.moment(row.set_at),
        )
        for row in rows
    )


def _passes(source: Source, passed: Iterable[Passed]) -> tuple[parts.Pass, ...]:
    return tuple(
        parts.Pass(
            rule=one.blocker.sentence,
            found=one.given.found,
            reason=f"{one.given.reason}: {one.given.words}",
            by=one.given.given_by.full_name,
            role=one.given.given_by.role_label,
            given_at=source.moment(one.given.given_at),
            ends_at=source.moment(one.given.ends_at),
            ends_when=one.given.ends_event,
            done_instead=one.given.done_instead,
            told=one.given.told_words,
        )
        for one in passed
    )


def _readings(source: Source) -> tuple[parts.Reading, ...]:
    units = {"engine_hours": "h", "pump_hours": "h", "km": "km"}
    newest = (
        MeterReading.objects.filter(meter__cart=source.cart, meter__removed_at=None, read_at__lte=source.at)
        .order_by("meter", "-read_at")
        .distinct("meter")
        .select_related("meter")
    )
    return tuple(
        parts.Reading(
            name=row.meter.get_kind_display(),
            value=str(row.value),
            unit=units[row.meter.kind],
            read_at=source.moment(row.read_at),
        )
        for row in newest
    )


def _tyres(source: Source) -> tuple[parts.Tyre, ...]:
    policy, rows = yard_policy(), []
    for fitting in current_fittings([source.cart]):
        depth, read_at = getattr(fitting, "last_depth_mm", None), getattr(fitting, "last_read_at", None)
        if depth is None or read_at is None:
            continue
        position = fitting.wheel_position
        limit = withdrawal_limit(
            rule_set=policy.rule_set,
            position="steer" if position.steers else "other",
            yard_mm=policy.tread_steer_mm if position.steers else policy.tread_other_mm,
        )
        rows.append(
            parts.Tyre(
                position=position.code,
                place=position.words,
                depth_mm=str(depth),
                limit_mm=f"{limit.depth_mm.normalize():f}",
                measured_on=read_at.astimezone(source.zone).date().isoformat(),
                make=fitting.tyre.make,
            )
        )
    return tuple(rows)


def _extinguishers(source: Source) -> tuple[parts.Extinguisher, ...]:
    on: date = yard_day(source.at)
    return tuple(
        parts.Extinguisher(
            serial=item.serial,
            place=item.bracket or "in its bracket",
            kind=f"{item.size_kg.normalize():f} kg {item.get_agent_display().lower()}",
            dates=tuple(
                parts.NextDate(kind=KIND_WORDS[due.kind], due_on=due.on.isoformat())
                for due in services_due(item, on=on)
            ),
        )
        for item in extinguishers_for([source.cart]).get(source.cart.pk, [])
    )


def _documents(source: Source) -> tuple[parts.Document, ...]:
    rows = Document.objects.filter(cart=source.cart) | Document.objects.filter(cart=None)
    newest: dict[str, Document] = {}
    for row in rows.order_by("expires_on", "recorded_at"):
        newest[row.kind] = row
    return tuple(
        parts.Document(
            kind=row.get_kind_display(),
            number=row.number,
            valid_until_on=row.expires_on.isoformat() if row.expires_on else None,
        )
        for row in newest.values()
    )


def _cart(cart: Cart) -> parts.Cart:
    groups = list(cart.axle_groups.all())
    axles = sum(group.axles for group in groups)
    return parts.Cart(
        id=str(cart.pk),
        fleet_number=cart.fleet_number,
        plate=cart.plate,
        vin=cart.vin,
        make=cart.make,
        model=cart.model,
        build_year=cart.build_year,
        tank_l=cart.tank_capacity_l,
        tank_material=cart.get_tank_material_display().lower(),
        axles=f"{axles} axles",
        steering_side=cart.get_steering_side_display().lower(),
        gear=tuple(
            parts.Gear(name=row.get_kind_display(), detail=row.details)
            for row in cart.fitments.all()
            if row.removed_on is None
        ),
    )


def _signature_of(walk: WalkRound, source: Source) -> parts.Signature:
    signed = json.loads(walk.manifest)["signature"]
    return parts.Signature(
        kind=walk.signature_kind,
        name=walk.signature_name,
        role=walk.author_words.rsplit(", ", 1)[-1].capitalize(),
        part=f"Walked the cart and signed the {walk.get_purpose_display().lower()}",
        statement=signed["statement"],
        signed_at=source.moment(walk.signed_at),
        organisation=yard_policy().name,
        how="signed in on the yard’s tablet",
        strokes=tuple(tuple(tuple(point) for point in stroke) for stroke in signed["strokes"]),
    )


def _method(walk: WalkRound, source: Source) -> parts.Method:
    return parts.Method(
        walk_round_id=str(walk.pk),
        walk_round_sha256=walk.manifest_sha256,
        sheet=walk.get_purpose_display(),
        edition=walk.edition.number,
        edition_sha256=walk.edition.sha256,
        place=source.cart.home_yard,
        started_at=source.moment(walk.started_at),
        signed_at=source.moment(walk.signed_at),
    )


def _common(source: Source, numbered: Numbered, photos: _Photos, walk: WalkRound) -> dict[str, object]:
    """What both papers carry, as keyword arguments. Stations and defects are read first: they number the photos."""
    agreement, policy = source.line.agreement, yard_policy()
    head = ChainHead.objects.filter(chain=cart_chain(source.cart.pk)).first()
    stations, defects = _stations(walk, photos), _defects(source, photos)
    replaces = numbered.replaces
    address = f"{settings.PUBLIC_ADDRESS}/v/{numbered.code}/"
    return {
        "number": numbered.number,
        "revision": numbered.revision,
        "replaces": parts.Replaces(number=replaces.number, why=numbered.why) if replaces else None,
        "issued_at": source.moment(source.at),
        "issued_by": parts.Person(
            name=source.by.full_name if source.by else policy.name,
            role=source.by.role_label if source.by else "Issued when the check was signed",
        ),
        "time_zone": agreement.time_zone,
        "rule_set": walk.rule_set,
        "issuer": parts.Issuer(
            name=policy.name,
            address=tuple(part.strip() for part in settings.YARD_ADDRESS.split(",")),
            contact=tuple(part.strip() for part in settings.YARD_CONTACT.split(",")),
        ),
        "customer": parts.Customer(
            name=agreement.customer.name,
            contact_name=agreement.customer.contact_name,
            phone=agreement.customer.phone,
            email=agreement.customer.email,
            address=tuple(part.strip() for part in agreement.customer.address.split(",") if part.strip()),
        ),
        "hire": parts.Hire(
            agreement=agreement.number,
            place_of_work=agreement.place_of_work,
            starts_at=source.moment(source.line.promised.lower),
            ends_at=source.moment(source.line.promised.upper),
            order_number=agreement.order_number,
            leaves=agreement.get_leaves_by_display().lower(),
            works=agreement.get_works_on_display().lower(),
        ),
        "cart": _cart(source.cart),
        "limits": _limits(source),
        "passes": _passes(source, source.answer.passed),
        "stations": stations,
        "defects": defects,
        "readings": _readings(source),
        "tyres": _tyres(source),
        "extinguishers": _extinguishers(source),
        # What could not be checked stands with the results; nothing else departs from the sheet.
        "deviations": (),
        "outside": (),
        "signatures": (_signature_of(walk, source),),
        "journal": parts.JournalHead(
            chain=cart_chain(source.cart.pk),
            position=head.position if head else 0,
            sha256=head.hash if head else "0" * 64,
        ),
        "verify": parts.Verify(
            url=address, address=address.split("://", 1)[1].rstrip("/"), code=numbered.code
        ),
        "method": _method(walk, source),
    }


def certificate_content(source: Source, numbered: Numbered) -> PreHireCertificate:
    """The pre-hire certificate of a line, on the yard's signature alone."""
    photos = _Photos(source)
    common = _common(source, numbered, photos, source.walk)
    conditions = bool(
        common["limits"]
        or common["passes"]
        or any(row.grade == "by_date" for row in _rows(common["defects"]))
    )
    return PreHireCertificate(
        **common,  # type: ignore[arg-type]
        photos=tuple(photos.rows.values()),
        outcome="conditions" if conditions else "ready",
        holds_until_at=source.moment(source.walk.signed_at + yard_policy().pre_hire_good),
        documents=_documents(source),
    )


def _rows(value: object) -> Sequence[parts.Defect]:
    return value if isinstance(value, tuple) else ()


def receipt_content(
    source: Source,
    numbered: Numbered,
    *,
    handover: Handover,
    certificate: Certificate,
    pictures: Sequence[Photo],
) -> HandoverReceipt:
    """The handover receipt: names the certificate, says what left and who took it or that nobody was there."""
    photos = _Photos(source)
    taken = [
        photos.add(photo, item="At handover", place=handover.place_words, taken_at=handover.at)
        for photo in pictures
    ]
    numbers = tuple(number for found in taken for number in found)
    common = _common(source, numbered, photos, source.walk)
    left = received = None
    if handover.mode == "left":
        left = parts.LeftUnattended(
            by=parts.Person(name=handover.by.full_name, role=handover.by.role_label),
            place=handover.place_words,
            left_at=source.moment(handover.at),
            keys=handover.keys_words,
            words="Left with nobody present to sign.",
            photos=numbers,
        )
    else:
        received = parts.Signature(
            kind=handover.signature_kind,
            name=handover.taken_by_name,
            role="For the customer",
            part="Took the cart over",
            statement=accept_words(bool(common["limits"] or common["passes"])),
            signed_at=source.moment(handover.at),
            organisation=source.line.agreement.customer.name,
            how="signed on the yard’s screen",
            strokes=tuple(
                tuple(tuple(point) for point in stroke)
                for stroke in json.loads(handover.signature_strokes or "[]")
            ),
        )
    return HandoverReceipt(
        **common,  # type: ignore[arg-type]
        photos=tuple(photos.rows.values()),
        certificate=parts.CertificateReference(
            number=certificate.number,
            revision=certificate.revision,
            issued_at=source.moment(certificate.issued_at),
            record_sha256=certificate.record_sha256,
        ),
        handed_over_at=source.moment(handover.at),
        handed_over_place=handover.place_words,
        how=source.line.agreement.get_leaves_by_display(),
        condition=(parts.Condition(place="Whole cart", words=handover.condition_words, photos=numbers),),
        items=tuple(
            parts.Item(name=words.strip(), count=1)
            for words in handover.items_words.splitlines()
            if words.strip()
        ),
        notes=(f"Fuel at handover: {handover.fuel_eighths} of 8 eighths.", f"Keys: {handover.keys_words}."),
        received=received,
        left=left,
    )


def accept_words(has_limits: bool) -> str:  # noqa: FBT001 - the one thing the words turn on
    """What a customer states by signing for a cart."""
    words = "I take over this cart with its certificate and the condition written here."
    return f"{words} I accept the limits printed at the top." if has_limits else words


def lap_of(cart: Cart) -> str:
    """The lap drawing that goes on the paper, with the open defects pinned."""
    return lap_svg(cart, self_contained=True)
