"""What the database itself refuses of the fleet's tables, gone round forms and actions: one case a named constraint."""

import uuid
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.actions.locks import constraint_of
from fleet.models.carts import AxleGroup, Cart, Fitment, Meter, MeterReading
from fleet.models.defects import Defect, DefectStepPhoto
from fleet.models.evenness import EvennessSignature, HeadCatch
from fleet.models.photos import PhotoPart
from fleet.models.spraying import SprayGear, SprayHead, SprayOpening
from fleet.models.standing import Hold, Limit, Pass
from fleet.models.wheels import TyreFitting, WheelPosition
from tests.factories.fleet import (
    JOINED_AT,
    CartFactory,
    DefectFactory,
    DocumentFactory,
    ExtinguisherFactory,
    HoldFactory,
    LimitFactory,
    MeterReadingFactory,
    PassFactory,
    PhotoFactory,
    RepairStepFactory,
    TreadReadingFactory,
    TyreFactory,
    TyreFittingFactory,
)
from tests.factories.people import StaffFactory
from tests.factories.spraying import EvennessTestFactory, SpraySheetFactory
from tests.factories.standing import PutAwayFactory, SpokenPassFactory
from tests.factories.water import SanitisingFactory, WaterCarriedFactory
from tests.factories.yards import YardFactory
from tests.fleet import move_cases, weight_cases

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def change(row, **values):
    type(row)._base_manager.filter(pk=row.pk).update(**values)


def same_fleet_number():
    CartFactory(fleet_number="WC-47")
    CartFactory(fleet_number="wc-47")


def same_plate():
    CartFactory(plate="S1")
    CartFactory(plate="s1")


def same_axle_group():
    group = CartFactory().axle_groups.first()
    AxleGroup.objects.create(
        cart=group.cart, position=1, kind="drive", axles=1, position_m=3, tare_kg=1, limit_kg=2
    )


def same_gear():
    cart = CartFactory(gear=("cannon",))
    Fitment.objects.create(cart=cart, kind="cannon", fitted_on=date(2026, 12, 1))


def same_meter():
    Meter.objects.create(cart=CartFactory(), kind="km", fitted_at=JOINED_AT)


def same_meter_source():
    first = MeterReadingFactory()
    MeterReadingFactory(meter=first.meter, source_id=first.source_id, read_at=first.read_at + HOUR)


def meter_backwards():
    first = MeterReadingFactory(value=Decimal(100))
    MeterReadingFactory(meter=first.meter, value=Decimal(99), read_at=first.read_at + HOUR)


def meter_backwards_in_between():
    first = MeterReadingFactory(value=Decimal(100))
    MeterReadingFactory(meter=first.meter, value=Decimal(101), read_at=first.read_at - HOUR)


def same_wheel_code():
    WheelPosition.objects.create(cart=CartFactory(), code="1L", axle=1, side="L", place="single", steers=True)


def two_tyres_in_a_place():
    TyreFittingFactory(wheel_position=TyreFittingFactory().wheel_position)


def a_tyre_in_two_places():
    TyreFittingFactory(tyre=TyreFittingFactory().tyre)


def told_twice():
    first = DefectFactory()
    DefectFactory(
        cart=first.cart, source_id=first.source_id, source_kind=first.source_kind, place=first.place,
        check_key=first.check_key,
    )  # fmt: skip


def two_limits():
    first = LimitFactory()
    LimitFactory(defect=first.defect)


def second_of(role):
    given = SpokenPassFactory()
    change(given, second_person=getattr(given, role))


def entered_by_its_giver():
    given = SpokenPassFactory()
    change(given, entered_by=given.given_by)


def two_passes():
    first = PassFactory()
    PassFactory(defect=Defect.objects.get(pk=first.record_id))


def second_look_by_the_same():
    defect = DefectFactory(state="verified")
    change(defect, verified_by=defect.repaired_by)


def two_parts_at_one_place():
    part = {"sha256": "a" * 64, "start": 0, "content": b"0", "received_at": JOINED_AT}
    # Another person's are no hindrance.
    for sender in (uuid.uuid4(), *[uuid.uuid4()] * 2):
        PhotoPart.objects.create(sender=sender, **part)


def put_off():
    return DefectFactory(grade="watch", state="put_off")


def the_same_as_itself():
    defect = DefectFactory(state="same_as")
    change(defect, same_as=defect)


def condemn(**wrong):
    said = {"condemned_at": JOINED_AT, "condemned_by": StaffFactory(), "condemned_words": "Pitted"}
    ExtinguisherFactory(**{"cart": None} | said | wrong)


def further(place=2, *, step=None, photo=None):
    step = step or RepairStepFactory()
    DefectStepPhoto(step=step, photo=photo or PhotoFactory(), place=place).save(force_insert=True)
    return step


def two_photos_in_a_place():
    further(step=further())


def one_photo_twice():
    photo = PhotoFactory()
    further(3, step=further(photo=photo), photo=photo)


def caught_again(*, test=None, caught_l):
    """The first head of one test, caught into that test or another."""
    test = test or EvennessTestFactory()
    head = test.sheet.heads.first()
    if caught_l < 0:
        head = SprayHead.objects.create(
            sheet=test.sheet, position=9, name="Ninth", nozzle="fan", nominal_l_min=1
        )
    HeadCatch.objects.create(test=test, head=head, caught_l=caught_l, seconds=15)


def signed_by_nothing():
    test = EvennessTestFactory()
    EvennessSignature.objects.create(
        test=test, record="{}", record_sha256="00", signed_at=test.done_at, clock_offset_ms=0, author_words="Somebody",
        is_by_name=False, sent_by=test.recorded_by, kind="thumb", name="Somebody",
    )  # fmt: skip


CASES = (
    {
        "fleet_stepphoto_one_a_place": two_photos_in_a_place,
        "fleet_stepphoto_kept_once": one_photo_twice,
        "fleet_stepphoto_six_at_most": lambda: further(7),
        "fleet_cart_fleet_number_once": same_fleet_number,
        "fleet_cart_plate_once": same_plate,
        "fleet_yard_name_once": lambda: [YardFactory(name=name) for name in ("Redgum Flat", "REDGUM flat")],
        "fleet_cart_sizes_positive": lambda: change(CartFactory(), tank_capacity_l=0),
        "fleet_cart_fuel_tank_positive": lambda: change(CartFactory(), fuel_tank_l=0),
        "fleet_cart_cylinder_is_round": lambda: change(CartFactory(), tank_shape="cylinder"),
        "fleet_axlegroup_position_once": same_axle_group,
        "fleet_axlegroup_limit_over_tare": lambda: change(CartFactory().axle_groups.first(), limit_kg=1),
        "fleet_axlegroup_one_to_three_axles": lambda: change(CartFactory().axle_groups.first(), axles=4),
        "fleet_fitment_kind_once": same_gear,
        "fleet_fitment_period_in_order": lambda: change(
            CartFactory().fitments.first(), removed_on=date(2020, 1, 1)
        ),
        "fleet_fitment_count_positive": lambda: change(CartFactory().fitments.first(), count=0),
        "fleet_meter_one_now": same_meter,
        "fleet_meter_period_in_order": lambda: change(CartFactory().meters.first(), removed_at=JOINED_AT),
        "fleet_meterreading_not_negative": lambda: MeterReadingFactory(value=Decimal(-1)),
        "fleet_meterreading_once_a_source": same_meter_source,
        "fleet_wheelposition_code_once": same_wheel_code,
        "fleet_tyre_new_depth_believable": lambda: TyreFactory(new_depth_mm=Decimal("40.1")),
        "fleet_tyre_cost_not_negative": lambda: TyreFactory(cost=Decimal("-0.01")),
        "fleet_tyrefitting_one_tyre_a_position": two_tyres_in_a_place,
        "fleet_tyrefitting_one_position_a_tyre": a_tyre_in_two_places,
        "fleet_tyrefitting_period_in_order": lambda: change(
            TyreFittingFactory(), period=DateTimeTZRange(JOINED_AT, JOINED_AT, "[)")
        ),
        "fleet_treadreading_not_negative": lambda: TreadReadingFactory(depth_mm=Decimal("-0.1")),
        "fleet_extinguisher_size_positive": lambda: ExtinguisherFactory(size_kg=Decimal(0)),
        "fleet_document_period_in_order": lambda: DocumentFactory(expires_on=date(2026, 1, 1)),
        "fleet_photo_has_size": lambda: PhotoFactory(width_px=0),
        "fleet_defect_told_once": told_twice,
        "fleet_defect_second_look_by_another": second_look_by_the_same,
        "fleet_defect_closed_as_its_state_says": lambda: change(DefectFactory(), state="verified"),
        "fleet_defect_repair_names_its_person": lambda: change(DefectFactory(), state="repaired"),
        "fleet_defect_by_date_has_its_date": lambda: change(
            DefectFactory(), grade="by_date", state="assessed"
        ),
        "fleet_defect_grade_known": lambda: change(DefectFactory(), grade="dreadful"),
        "fleet_defect_same_as_names_the_other": lambda: change(
            DefectFactory(state="same_as"), state="no_fault_found"
        ),
        "fleet_defect_same_as_another_than_itself": the_same_as_itself,
        "fleet_defect_same_as_stands": lambda: DefectFactory(state="same_as", same_as=DefectFactory()),
        "fleet_defect_put_off_says_until_and_why": lambda: change(put_off(), put_off_because=""),
        "fleet_defect_do_not_use_never_put_off": lambda: change(put_off(), grade="do_not_use"),
        "fleet_defect_put_off_again_twice_at_most": lambda: change(put_off(), put_off_times=4),
        "fleet_defect_put_off_within_its_date": lambda: change(
            put_off(), grade="by_date", due_on=JOINED_AT.date()
        ),
        "fleet_defect_watch_renewed_twice_at_most": lambda: change(DefectFactory(), renewals=3),
        "fleet_defect_temporary_fix_of_a_repair": lambda: change(
            DefectFactory(), fix_ends_on=JOINED_AT.date()
        ),
        "fleet_extinguisher_condemned_on_no_cart": lambda: condemn(cart=CartFactory()),
        "fleet_extinguisher_condemned_by_somebody": lambda: condemn(condemned_words=""),
        "fleet_hold_lifted_by_somebody": lambda: change(
            HoldFactory(), lifted_at=JOINED_AT + timedelta(days=90)
        ),
        "fleet_pass_ends_after_it_begins": lambda: PassFactory(ends_at=JOINED_AT),
        "fleet_pass_never_a_third_time": lambda: PassFactory(turn=3),
        "fleet_pass_one_open": two_passes,
        "fleet_pass_second_is_another": lambda: second_of("given_by"),
        "fleet_pass_second_did_not_enter_it": lambda: second_of("entered_by"),
        "fleet_pass_second_is_one_of_ours_or_named": lambda: change(PassFactory(), second_name="Ida Brandt"),
        "fleet_pass_spoken_before_it_is_entered": lambda: SpokenPassFactory(
            spoken_at=JOINED_AT + timedelta(days=61)
        ),
        "fleet_pass_entered_by_another": entered_by_its_giver,
        "fleet_pass_confirmed_or_disowned": lambda: change(
            SpokenPassFactory(), disowned_at=JOINED_AT + timedelta(days=61)
        ),
        "fleet_putaway_keys_somewhere": lambda: PutAwayFactory(keys_words=""),
        "fleet_putaway_period_in_order": lambda: PutAwayFactory(ended_at=JOINED_AT),
        "fleet_limit_one_a_defect": two_limits,
        "fleet_limit_period_in_order": lambda: change(LimitFactory(), lifted_at=JOINED_AT),
        "fleet_photopart_start_once": two_parts_at_one_place,
        "fleet_meterreading_never_backwards": meter_backwards,
        "fleet_water_source_known": lambda: WaterCarriedFactory(source="brine"),
        "fleet_water_once_a_time": lambda: WaterCarriedFactory(cart=WaterCarriedFactory().cart, source="dam"),
        "fleet_water_has_happened": lambda: WaterCarriedFactory(recorded_at=JOINED_AT),
        "fleet_water_struck_by_somebody": lambda: change(WaterCarriedFactory(), struck_words="Wrong"),
        "fleet_sanitising_once_a_time": lambda: SanitisingFactory(cart=SanitisingFactory().cart, minutes=5),
        "fleet_sanitising_has_happened": lambda: SanitisingFactory(recorded_at=JOINED_AT),
        "fleet_sanitising_figures_in_order": lambda: SanitisingFactory(minutes=0),
        "fleet_sanitising_tested_after_it": lambda: SanitisingFactory(passed=True, tested_at=JOINED_AT),
        "fleet_spraysheet_version_once": lambda: SpraySheetFactory(cart=SpraySheetFactory().cart),
        "fleet_spraysheet_pump_known": lambda: SpraySheetFactory(pump="belt"),
        "fleet_spraysheet_above_zero": lambda: SpraySheetFactory(pump_kpa=Decimal(0)),
        "fleet_spraygear_once_a_place": lambda: SprayGear.objects.create(
            sheet=SpraySheetFactory(), position=1, name="Fifth", speed_km_h=20, width_m=6
        ),
        "fleet_spraygear_above_zero": lambda: SprayGear.objects.create(
            sheet=SpraySheetFactory(), position=9, name="Fifth", speed_km_h=0, width_m=6
        ),
        "fleet_sprayhead_once_a_place": lambda: SprayHead.objects.create(
            sheet=SpraySheetFactory(), position=1, name="Cannon", nozzle="smooth", nominal_l_min=300
        ),
        "fleet_sprayhead_above_zero": lambda: SprayHead.objects.create(
            sheet=SpraySheetFactory(), position=9, name="Cannon", nozzle="smooth", nominal_l_min=0
        ),
        "fleet_sprayopening_once_a_place": lambda: SprayOpening.objects.create(
            sheet=SpraySheetFactory(), position=1, name="Left", heads=[1]
        ),
        "fleet_sprayopening_some_heads": lambda: SprayOpening.objects.create(
            sheet=SpraySheetFactory(), position=9, name="None", heads=[]
        ),
        "fleet_evennesstest_once_a_time": lambda: EvennessTestFactory(cart=EvennessTestFactory().cart),
        "fleet_evennesstest_in_order": lambda: EvennessTestFactory(recorded_at=JOINED_AT),
        "fleet_evennesssignature_kind_known": signed_by_nothing,
        "fleet_headcatch_once_a_head": lambda: caught_again(caught_l=40),
        "fleet_headcatch_in_order": lambda: caught_again(test=EvennessTestFactory(), caught_l=-1),
        "fleet_sanitising_struck_by_somebody": lambda: change(SanitisingFactory(), struck_words="Wrong"),
    }
    | weight_cases.CASES
    | move_cases.CASES
)


@pytest.mark.parametrize("name", CASES)
def test_the_database_refuses_it_by_name(name):
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        CASES[name]()
    assert constraint_of(refused.value) == name


def test_a_reading_put_in_between_is_refused_too():
    with pytest.raises(IntegrityError, match="goes backwards"), transaction.atomic():
        meter_backwards_in_between()


def test_every_named_constraint_of_the_fleet_has_its_case_and_its_sentence():
    named = {
        rule.name: rule
        for model in apps.get_app_config("fleet").get_models()
        for rule in model._meta.constraints
    }
    assert named.keys() == CASES.keys() - {
        "fleet_meterreading_never_backwards",
        "fleet_defect_same_as_stands",
    }
    stock = "Constraint “%(name)s” is violated."
    assert [name for name, rule in named.items() if str(rule.violation_error_message) in {stock, ""}] == []


@pytest.mark.parametrize("model", [Cart, TyreFitting, MeterReading, Hold, Pass, Limit])
def test_a_period_that_is_free_again_may_be_taken(model):
    """The exclusions and once-only rules end with their period, so that history never blocks the present."""
    if model is Cart:
        change(CartFactory(plate="S1"), retired_on=date(2026, 12, 1))
        CartFactory(plate="S1")
    elif model is TyreFitting:
        first = TyreFittingFactory(taken_off_at=JOINED_AT + HOUR)
        TyreFittingFactory(tyre=first.tyre, wheel_position=first.wheel_position, fitted_at=JOINED_AT + HOUR)
    elif model is MeterReading:
        old = MeterReadingFactory(value=Decimal(900)).meter
        change(old, removed_at=JOINED_AT + timedelta(days=40))
        new = Meter.objects.create(cart=old.cart, kind=old.kind, fitted_at=JOINED_AT + timedelta(days=40))
        MeterReadingFactory(meter=new, value=Decimal(1), read_at=JOINED_AT + timedelta(days=41))
    elif model is Hold:
        first = HoldFactory()
        HoldFactory(cart=first.cart)
    elif model is Pass:
        first = PassFactory()
        change(first, closed_at=first.ends_at, closed_by=StaffFactory())
        PassFactory(defect=Defect.objects.get(pk=first.record_id), turn=2)
    else:
        first = LimitFactory()
        change(first, lifted_at=first.set_at)
        LimitFactory(defect=first.defect)
    assert model.objects.count() == 2


def test_sealed_rows_are_never_changed_or_deleted():
    for row in (PhotoFactory(), DefectFactory().steps.get()):
        rows = type(row)._base_manager.filter(pk=row.pk)
        with pytest.raises(IntegrityError, match="sealed"), transaction.atomic():
            rows.update(id=uuid.uuid4())
        with pytest.raises(IntegrityError, match="sealed"), transaction.atomic():
            rows._raw_delete("default")
