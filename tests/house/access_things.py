"""One of every thing an address names, made once for the access tests."""

from __future__ import annotations

import uuid
from datetime import date, timedelta

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.utils import timezone

from fleet.alerts.models import Alert, OnCall
from fleet.models.carts import ReadingQuestion
from fleet.models.yards import Yard
from fleet.photos import store
from hire.actions.operator_links import make_operator_link
from inspections.certificates.models import Certificate, SealedFile
from inspections.library import library
from people.canonical import sha256_hex
from people.roles import Role
from people.tablets.actions import enrol_tablet
from people.yard import yard_day
from servicing.models.jobs import PartUsed
from servicing.service_book import reckon_services
from tests.factories import inspections as walk
from tests.factories.back import back_line, found_again
from tests.factories.contacts import ContactFactory, LetterFactory
from tests.factories.fleet import (
    CartFactory,
    DefectFactory,
    ExtinguisherFactory,
    HoldFactory,
    LimitFactory,
    MeterReadingFactory,
    PassFactory,
    PhotoFactory,
    TreadReadingFactory,
    TyreFittingFactory,
)
from tests.factories.hire import (
    BookingFactory,
    CustomerLinkFactory,
    JobPlanFactory,
    LineFactory,
    LoadFactory,
    OffHireFactory,
    PencilFactory,
)
from tests.factories.money import (
    AgreedHoursFactory,
    BesideChargeFactory,
    DisputeFactory,
    DocketFactory,
    DriverFactory,
    FineFactory,
    RateCardFactory,
    StandDownClaimFactory,
    StandDownFactory,
    WorkedDayFactory,
    YardDayFactory,
)
from tests.factories.offers import ServiceOfferFactory
from tests.factories.owners import HireInFactory, OwnerPaperFactory
from tests.factories.quotes import quote_of
from tests.factories.services import ServiceDoneFactory, ServicePlanFactory, VisitFactory
from tests.factories.servicing import RetorqueFactory
from tests.factories.site import collection_of, open_phone
from tests.factories.sites import SitePackFactory, SiteSetFactory
from tests.factories.spraying import EvennessTestFactory
from tests.factories.standing import MovePermitFactory
from tests.factories.water import SanitisingFactory, WaterCarriedFactory
from tests.factories.weights import TankMeasuredFactory, WeightSheetFactory
from tests.factories.weights import TicketFactory as WeighbridgeTicketFactory
from tests.factories.wet import DailyDocketFactory, OperatorFactory, TicketFactory, wet_out
from tests.inspections.certificate_papers import fit
from tests.inspections.certificate_samples import lap_svg

TOKEN = "token-of-the-customer-000000001"


class Things(dict):
    """By kind, as its address writes it. `absent(kind)` is one that is not there."""

    def absent(self, kind: str) -> object:
        return {
            "check": "no-such-check",
            "check_told": "no-such-check",
            "code": "5N9V-4J3H-V42C5",
            "plate": "nosuchplate00000",
        }.get(kind) or uuid.uuid4()


def _paper(line, serial: int, at) -> Certificate:
    content, _ = fit(looks=12, photo_count=0)
    paper = Certificate(
        number=f"RGF-2026-9{serial:04d}-0", code=f"5N9V-4J3H-V42C{serial}", kind="pre_hire", subject_kind="hire_line",
        subject_id=line.pk, content=content.canonical().decode(), record_sha256=content.record_sha256, lap_svg=lap_svg(),
        issued_at=at,
    )  # fmt: skip
    paper.save(force_insert=True)
    pdf = f"%PDF-1.7 {serial}".encode()
    SealedFile(
        certificate=paper, sha256=sha256_hex(pdf), size_bytes=len(pdf), stored_name=store.put(pdf, ".pdf"),
        seal_fingerprint="0" * 64, sealed_at=at,
    ).save(force_insert=True)  # fmt: skip
    return paper


def make_things(people, at) -> Things:
    walk.edition()
    cart = CartFactory()
    jpeg = store.put(b"\xff\xd8 as good as a photo", ".jpg")
    photo = PhotoFactory(stored_name=jpeg, print_name=jpeg)
    line, other_line = LineFactory(cart=cart), LineFactory()
    paper, other = _paper(line, 1, at), _paper(other_line, 2, at)
    now = timezone.now()
    link = CustomerLinkFactory(line=line, token=TOKEN)
    ended = CustomerLinkFactory(line=line, token="token-that-was-ended-0000000000", revoked_at=at)
    expired = CustomerLinkFactory(
        line=line, token="token-that-ran-out-000000000000", made_at=now - timedelta(days=2), expires_at=now - timedelta(days=1)
    )  # fmt: skip
    assert ended.revoked_at and expired.expires_at < now
    alert = Alert.objects.create(
        rule="servicing.extinguisher", subject_kind="cart", subject_id=cart.pk, cart=cart, rank="today",
        for_role=Role.FITTER, what="A tag runs out.", how_we_know="By its tag.", if_not="The gate will hold it.", raised_at=at,
    )  # fmt: skip
    on_call = OnCall.objects.create(
        person=people[Role.FITTER], period=DateTimeTZRange(at, at + timedelta(days=7)), made_at=at,
        made_by=people[Role.FLEET_MANAGER],
    )  # fmt: skip
    question = ReadingQuestion.objects.create(
        cart=cart, subject="tread 1L", value=30, read_at=at, question="30 mm was read.", source_kind="walk_round",
        source_id=uuid.uuid4(),
    )  # fmt: skip
    late = DefectFactory(
        cart=cart, grade="by_date", state="assessed", due_on=date(2026, 3, 2), may_be_passed=True
    )
    fitting = TyreFittingFactory(cart=cart)
    TreadReadingFactory(fitting=fitting)
    MeterReadingFactory(cart=cart, kind="km")
    signed = walk.sign(cart, "daily", by=people[Role.YARD_HAND], at=at)
    turn = wet_out(at=now)
    unsigned = DailyDocketFactory(turn=turn, unsigned_why="Gate shut")
    own_daily = DailyDocketFactory(
        turn=None, line=line, operator=turn.operator, on=at.date(), starts_at=at - timedelta(hours=8), finishes_at=at,
        unsigned_why="Gate shut",
    )  # fmt: skip
    service = ServicePlanFactory(cart=cart)
    came_back, dent = back_line(at=now)
    done = ServiceDoneFactory(cart=cart, plan=service, done_at=at - timedelta(days=30), recorded_at=at)
    reckon_services(carts=[cart], at=at)
    offer = ServiceOfferFactory(line=line, plan=service)
    hire_in = HireInFactory()
    OwnerPaperFactory(owner=hire_in.owner)
    TankMeasuredFactory(cart=cart)
    WeightSheetFactory(cart=cart)
    to_come = LineFactory(cart=CartFactory(), starts_at=now + timedelta(days=20))
    collects, collects_by = collection_of(to_come, by=people[Role.HIRE_DESK], at=now)
    return Things(
        weighbridge_ticket=WeighbridgeTicketFactory(cart=cart).pk,
        plan=service.pk,
        service_done=done.pk,
        service_due=service.dues.get(cart=cart).pk,
        visit=VisitFactory(cart=cart, on=yard_day(now) + timedelta(days=9)).pk,
        late=f"?kind=defect&record={late.pk}&rule=defect.late",
        staff=people[Role.YARD_HAND].pk,
        cart=cart.pk,
        tablet=enrol_tablet(name="Gate", here=None, by=people[Role.FLEET_MANAGER], at=at)[0].pk,
        plate=cart.plate_code,
        fitment=cart.fitments.first().pk,
        fitting=fitting.pk,
        retorque=RetorqueFactory(cart=CartFactory()).pk,
        question=question.pk,
        extinguisher=ExtinguisherFactory(cart=cart).pk,
        hold=HoldFactory(cart=CartFactory()).pk,
        move_permit=MovePermitFactory(cart=cart).pk,
        defect=DefectFactory(cart=cart, grade="watch").pk,
        step="look",
        job_act="part",
        check_told=DefectFactory(cart=cart, grade="watch", check_key="hose-weeps").check_key,
        part=PartUsed.objects.create(defect=late, words="Hose", used_at=at, used_by=people[Role.FITTER]).pk,
        photo=photo.pk,
        water=WaterCarriedFactory(cart=cart).pk,
        sanitising=SanitisingFactory(cart=cart).pk,
        evenness_test=EvennessTestFactory(cart=cart).pk,
        alert=alert.pk,
        on_call=on_call.pk,
        sha256="a" * 64,
        new_id=uuid.uuid4(),
        walk_round=signed.pk,
        # Every answer of it was given at one instant.
        question_code="pace",
        check=library()[0].key,
        code=paper.code,
        certificate=paper.pk,
        other_certificate=other.pk,
        pencil=PencilFactory().pk,
        booking=BookingFactory().pk,
        rate_card=RateCardFactory().pk,
        fine=FineFactory(line=line).pk,
        driver=DriverFactory(line=line).pk,
        yard_day=YardDayFactory().pk,
        dispute=DisputeFactory(docket__line=line).pk,
        beside=BesideChargeFactory(line=line).pk,
        worked=WorkedDayFactory(line=line).pk,
        hours=AgreedHoursFactory(line=line).pk,
        stand_down=StandDownFactory(line=line).pk,
        claim=StandDownClaimFactory(line=line).pk,
        offer=offer.pk,
        own_offer=offer.pk,
        docket=DocketFactory(line=line).pk,
        quote=quote_of(by=people[Role.HIRE_DESK], at=now).pk,
        owner=hire_in.owner_id,
        leg="out",
        yard=Yard.objects.create(name=cart.home_yard, address="1 Dust Road").pk,
        hire_in=hire_in.pk,
        line=line.pk,
        back_line=came_back.pk,
        back_key=f"defect-{dent.pk}",
        again_answer=found_again(
            hand=people[Role.YARD_HAND], at=now - timedelta(hours=20), line=came_back
        ).pk,
        hire=line.pk,
        off_hire=OffHireFactory(line__cart=CartFactory()).pk,
        wet_line=turn.line.pk,
        operator_token=make_operator_link(operator=turn.operator, by=people[Role.HIRE_DESK], at=now)[1],
        turn=turn.pk,
        operator=OperatorFactory().pk,
        ticket=TicketFactory().pk,
        daily=unsigned.pk,
        own_daily=own_daily.pk,
        site_walker=open_phone(line, at=at)[0].pk,
        line_to_come=to_come.pk,
        collection=collects.pk,
        collection_token=collects_by,
        load=LoadFactory(line=line).pk,
        wet_load=LoadFactory(line=turn.line, taken_at=now, told_at=now).pk,
        job_plan=JobPlanFactory(line=line).pk,
        link=link.pk,
        token=TOKEN,
        ended_token="token-that-was-ended-0000000000",
        expired_token="token-that-ran-out-000000000000",
        customer=line.agreement.customer.pk,
        contact=ContactFactory(customer=line.agreement.customer).pk,
        letter=LetterFactory(line=line).pk,
        pack=SitePackFactory(line=line).pk,
        site_set=SiteSetFactory(customer=line.agreement.customer).pk,
        **{"pass": PassFactory().pk, "limit": LimitFactory().pk},
    )
