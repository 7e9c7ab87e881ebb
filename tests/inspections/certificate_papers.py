"""Invented papers: certificates of a cart that is fit or goes with limits, and receipts signed for or left."""

import hashlib
from dataclasses import replace

from inspections.certificates.content import HandoverReceipt, PreHireCertificate
from inspections.certificates.parts import (
    CertificateReference,
    Condition,
    Defect,
    Document,
    Extinguisher,
    Item,
    JournalHead,
    LeftUnattended,
    Limit,
    NextDate,
    Pass,
    Person,
    Reading,
    Replaces,
    Signature,
    Verify,
)
from tests.inspections.certificate_rows import GATE_OUT_ROWS, ROWS
from tests.inspections.certificate_samples import (
    CART,
    CUSTOMER,
    HIRE,
    ISSUER,
    METHOD,
    TYRES,
    answered,
    photos,
    signature,
    stations,
)


def fit(*, looks: int = 45, photo_count: int = 4) -> tuple[PreHireCertificate, dict[str, bytes]]:
    """A certificate of a cart that is fit to go, with its print-size photos."""
    rows, prints = photos(photo_count)
    found = answered(stations(ROWS, looks), 7, photos=(1,)) if photo_count else stations(ROWS, looks)
    certificate = PreHireCertificate(
        number="SLK-2026-00042-5",
        revision=1,
        replaces=None,
        issued_at="2026-11-25T16:42:00+10:30",
        issued_by=Person(name="Rosa Ferreira", role="hire desk"),
        time_zone="Australia/Adelaide",
        rule_set="au",
        issuer=ISSUER,
        customer=CUSTOMER,
        hire=HIRE,
        cart=CART,
        limits=(),
        passes=(),
        stations=found,
        defects=(),
        photos=rows,
        readings=(
            Reading(name="Engine hours", value="6412.3", unit="h", read_at="2026-11-25T13:24:00+10:30"),
            Reading(name="Pump hours", value="2210.8", unit="h", read_at="2026-11-25T13:24:00+10:30"),
            Reading(name="Distance", value="148230", unit="km", read_at="2026-11-25T13:24:00+10:30"),
            Reading(name="Fuel", value="8", unit="eighths", read_at="2026-11-25T13:24:00+10:30"),
        ),
        tyres=TYRES,
        extinguishers=(
            Extinguisher(
                serial="DP9-44871",
                place="Left side, behind the cab",
                kind="9 kg dry powder",
                dates=(
                    NextDate(kind="six-monthly service", due_on="2027-03"),
                    NextDate(kind="pressure test", due_on="2029-09"),
                ),
            ),
            Extinguisher(
                serial="DP9-44902",
                place="Right rear guard",
                kind="9 kg dry powder",
                dates=(
                    NextDate(kind="six-monthly service", due_on="2027-03"),
                    NextDate(kind="pressure test", due_on="2030-02"),
                ),
            ),
        ),
        deviations=(),
        outside=("Tyre pressures of 20 November 2026 read by Dray Tyres, Ironbark Flat",),
        signatures=(signature(),),
        journal=JournalHead(chain="cart:WC-14", position=318, sha256=hashlib.sha256(b"journal").hexdigest()),
        verify=Verify(
            url="https://carts.example/v/5N9V-4J3H-V42C5",
            address="carts.example/v/5N9V-4J3H-V42C5",
            code="5N9V-4J3H-V42C5",
        ),
        outcome="ready",
        holds_until_at="2026-11-28T14:31:00+10:30",
        method=METHOD,
        documents=(
            Document(kind="Registration", number="TC 14 WR", valid_until_on="2027-06-30"),
            Document(
                kind="Insurance",
                number="policy MV-20931",
                valid_until_on="2027-01-31",
                note="third party and water damage",
            ),
            Document(
                kind="Rollover plate", number="RF-2207", valid_until_on=None, note="copied from the frame"
            ),
            Document(kind="Plant risk assessment", number="issue 3", valid_until_on="2027-08"),
        ),
    )
    return certificate, prints


def limited(*, looks: int = 45, photo_count: int = 5) -> tuple[PreHireCertificate, dict[str, bytes]]:
    """A certificate of a cart that goes with a limit, a pass, two open defects and looks that could not be done."""
    certificate, prints = fit(looks=looks, photo_count=photo_count)
    found = answered(
        certificate.stations, 31, answer="wrong", grade="do_not_use", words="cracked at the foot", photos=(2,)
    )
    found = answered(found, 19, answer="wrong", grade="by_date", words="lamp dead, right side", photos=(3,))
    found = answered(found, 12, answer="not_on_cart", value=None, limit="", verdict="")
    found = answered(found, 26, answer="could_not_check", why="lid_locked", words="key with the night shift")
    changed = replace(
        certificate,
        outcome="conditions",
        number="SLK-2026-00043-0",
        revision=2,
        replaces=Replaces(number="SLK-2026-00041-7", why="the plate was written TC 41 WR"),
        limits=(
            Limit(
                what="Cannon not to be used",
                why="Its mount is cracked at the foot; the hire does not need it. Valve shut, air off, pinned.",
                tag="T-0091",
                by="Owen Pratt",
                role="workshop manager",
                tagged_at="2026-11-25T15:05:00+10:30",
            ),
        ),
        passes=(
            Pass(
                rule="500-hour service",
                found="Due at 6,400 h, read 6,412 h: past its date and inside the tolerance.",
                reason="No bay free before the hire; oil and filters seen today.",
                by="Owen Pratt",
                role="workshop manager",
                given_at="2026-11-25T15:20:00+10:30",
                ends_at="2026-12-02T17:00:00+10:30",
                ends_when="6,450 h is read",
                condition="serviced on site, booked 1 December, fitter Dana Whitlock",
                done_instead="oil level and filter indicator looked at daily",
                told="Aoife Merrin, by telephone",
            ),
        ),
        defects=(
            Defect(
                reference="D-0207",
                title="Cannon mount cracked",
                place="Tank top",
                grade="do_not_use",
                words="Hairline 30 mm long at the foot of the left leg. Only the cannon is affected; it is tagged out.",
                told_at="2026-11-25T13:58:00+10:30",
                state="looked at",
                isolated=True,
                photos=(2,),
            ),
            Defect(
                reference="D-0208",
                title="Reverse lamp dead",
                place="Rear, right",
                grade="by_date",
                words="The left lamp and the alarm work.",
                told_at="2026-11-25T13:44:00+10:30",
                due_on="2026-11-30",
                state="on the job, lamp ordered",
                photos=(3,),
            ),
        ),
        stations=found,
        deviations=("Tank lid not opened; water level read at the sight tube instead",),
    )
    return changed, prints


def signed_receipt() -> tuple[HandoverReceipt, dict[str, bytes]]:
    """A receipt the customer signed at the gate."""
    certificate, prints = limited(photo_count=4)
    received = replace(
        signature("Tomasz Żuławski", "leading hand", "Took the cart and accepts its limits"),
        organisation=CUSTOMER.name,
        statement="I have seen the cart, its open defects and its limits, and take it as written here.",
        signed_at="2026-11-27T05:41:00+10:30",
    )
    return _receipt(certificate, received=received, left=None), prints


def left_receipt() -> tuple[HandoverReceipt, dict[str, bytes]]:
    """A receipt of a cart left on site before anybody was there."""
    certificate, prints = fit(photo_count=3)
    left = LeftUnattended(
        by=Person(name="Marek Dolan", role="yard hand"),
        place="Saltbush Road compound, inside the north gate",
        left_at="2026-11-27T04:55:00+10:30",
        keys="in the key safe by the site office; number sent to Aoife Merrin by text",
        words="Floated out at night; the site opens at 6.",
        photos=(1, 2, 3),
    )
    return _receipt(certificate, received=None, left=left), prints


def _receipt(
    certificate: PreHireCertificate, *, received: Signature | None, left: LeftUnattended | None
) -> HandoverReceipt:
    checked_at = "2026-11-27T05:34:00+10:30" if received else "2026-11-27T04:49:00+10:30"
    yard = replace(
        signature("Marek Dolan", "yard hand", "Did the gate-out check and handed it over"),
        statement="I checked this cart at the gate and handed it over as written here.",
        signed_at=checked_at,
    )
    return HandoverReceipt(
        number="SLK-2026-00044-9",
        revision=1,
        replaces=None,
        issued_at="2026-11-27T05:42:00+10:30" if received else "2026-11-27T04:57:00+10:30",
        issued_by=Person(name="Marek Dolan", role="yard hand"),
        time_zone="Australia/Adelaide",
        rule_set="au",
        issuer=ISSUER,
        customer=CUSTOMER,
        hire=HIRE,
        cart=CART,
        limits=certificate.limits,
        passes=certificate.passes,
        stations=stations(GATE_OUT_ROWS, 15),
        defects=certificate.defects,
        photos=certificate.photos,
        readings=certificate.readings,
        tyres=TYRES,
        extinguishers=certificate.extinguishers,
        deviations=(),
        outside=(),
        signatures=(yard,),
        journal=replace(certificate.journal, position=324),
        verify=Verify(
            url="https://carts.example/v/8Q2M-77TX-KD0A3",
            address="carts.example/v/8Q2M-77TX-KD0A3",
            code="8Q2M-77TX-KD0A3",
        ),
        certificate=CertificateReference(
            number=certificate.number,
            revision=certificate.revision,
            issued_at=certificate.issued_at,
            record_sha256=certificate.record_sha256,
        ),
        method=replace(
            METHOD,
            sheet="Gate-out check",
            edition=2,
            place="Tallow Creek yard, gate" if received else "Saltbush Road compound",
            started_at="2026-11-27T05:22:00+10:30" if received else "2026-11-27T04:37:00+10:30",
            signed_at=checked_at,
        ),
        handed_over_at="2026-11-27T05:41:00+10:30" if received else "2026-11-27T04:55:00+10:30",
        handed_over_place="Tallow Creek yard, gate" if received else "Saltbush Road compound",
        how="driven away by the customer" if received else "floated to site",
        condition=(
            Condition(
                place="Left side",
                words="Scrape 40 cm long above the side board, old, painted over",
                photos=(1,),
            ),
            Condition(place="Rear", words="Right mud flap shortened, edge ragged"),
        ),
        items=(
            Item(name="Keys", count=2),
            Item(name="Standpipe with meter, permit aboard", count=1, serial="SP-118"),
            Item(name="Hydrant key", count=1),
            Item(name="Lay-flat hose, 20 m", count=2),
        ),
        notes=(
            "Full tank: not on a public road.",
            "Road fill 9,400 L, 860 mm down from the lid. Water moves: brake early.",
        ),
        received=received,
        left=left,
    )
