"""The yard's own clock and policies, read from settings in one place."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import cache
from zoneinfo import ZoneInfo

from django.conf import settings

# The country whose public holidays go with a rule set.
COUNTRIES = {"au": "AU", "us": "US", "uk": "GB"}
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True)
class YardPolicy:
    """What this yard has decided. Defaults are common practice, no source.

    holiday_country, holiday_region: whose public holidays are kept.
    pre_hire_good: how long a signed pre-hire check holds; pre_hire_good_closed: how long at the most over days the yard is closed,
    where the cart is unmoved: its meters have risen by unmoved_hours and unmoved_km at the most. gate_out_good: how old a gate-out
    check may be at leaving; loaded_good: how long before leaving a cart may have been loaded on its float, its checks judged for
    then. pre_start_by: local time by which a cart on hire should have had its daily pre-start. second_shift_at:
    local time at which the night shift of a hire worked day and night begins. hire_days_in_week: from Monday on, of a hire that
    says nothing else. copy_days: so many days after its end a week's copy of pre-starts kept elsewhere is late.
    tablet_sign_in_good: how long after somebody's password on a shared tablet their PIN counts there. returning_within: how
    soon after its repair a fault told
    again has come back. pattern_within: how far back the same fault on several carts is counted. watch_for: when a
    defect to watch is looked at again, where nobody says otherwise. unseen_for: how long a repair with a photo lets a cart
    at work go on before a second person has seen it. spoken_pass_for: how long a pass given by phone counts before its manager has
    confirmed it. permit_longest, permit_km_h: the most a move permit may say.
    off_hire_cut_off: local time before which an off-hire call stops the charge the same day.
    run_sheet_at: local time by which the next day's runs have their drivers.
    quiet_from, quiet_until: the local times between which
    only a stop disturbs; digest_at: when what falls due soon is told; working_days: Monday is 0; stop_next_after,
    stop_manager_after: how long nobody takes a stop before the next person, and the fleet manager, is told. turn_round: kept
    between two hires of a cart to wash and check it. site_pack_days: how many working days ahead a site has its pack of papers;
    booking_lead_days: how many working days ahead a booking should have its cart; move_lead: until how long before it leaves a
    promised hire may be proposed another cart; order_low_pct: from what part of its value an order number runs low.
    pick_up_days: within how many working days a cart that is called off is fetched, where nobody says otherwise.
    decide_days: within how many working days what was found on a cart that is back is decided. pencil_for: how long a cart is
    kept for a caller, and quote_days: for how many days a quote stands, where nobody says. collection_link_good: how long a link
    is good by which the driver who collects a cart does its gate-out check. head_tolerance_pct: so far off
    its flow when new a spray head is cleaned or changed. potable_after_bore:
    whether a tank that carried bore or dam water may carry drinking water again once it is sanitised and tested, and sanitise_for:
    how long that takes. water_stands_days: for how many days drinking water may stand in a loaded tank before somebody is told.
    crew, kit_kg, mud_kg: aboard a cart at work, added to a published tare; weight_margin_kg: added to every cart before its road
    fill.
    """

    name: str
    zone: ZoneInfo
    rule_set: str
    holiday_country: str
    holiday_region: str
    pre_hire_good: timedelta
    pre_hire_good_closed: timedelta
    unmoved_hours: Decimal
    unmoved_km: Decimal
    gate_out_good: timedelta
    loaded_good: timedelta
    pre_start_by: time
    second_shift_at: time
    hire_days_in_week: int
    copy_days: int
    due_out_lead: timedelta
    extinguisher_lead: timedelta
    document_lead: timedelta
    meter_stale: timedelta
    workshop_day: timedelta
    closed_days: frozenset[date]
    returning_within: timedelta
    pattern_within: timedelta
    watch_for: timedelta
    unseen_for: timedelta
    permit_longest: timedelta
    permit_km_h: int
    spoken_pass_for: timedelta
    tyre_lead: timedelta
    customer_link_life: timedelta
    collection_link_good: timedelta
    turn_round: timedelta
    pencil_for: timedelta
    quote_days: int
    off_hire_cut_off: time
    run_sheet_at: time
    site_pack_days: int
    booking_lead_days: int
    move_lead: timedelta
    order_low_pct: int
    pick_up_days: int
    decide_days: int
    quiet_from: time
    quiet_until: time
    digest_at: time
    working_days: frozenset[int]
    stop_next_after: timedelta
    stop_manager_after: timedelta
    tablet_sign_in_good: timedelta
    head_tolerance_pct: Decimal
    tread_steer_mm: Decimal
    tread_other_mm: Decimal
    potable_after_bore: bool
    sanitise_for: timedelta
    water_stands_days: int
    crew: int
    kit_kg: int
    mud_kg: int
    weight_margin_kg: int

    def is_closed(self, on: date) -> bool:
        """Nobody is in the yard that day: no working day of its week, or a day it is shut."""
        return on.weekday() not in self.working_days or on in self.closed_days


@cache
def yard_policy() -> YardPolicy:
    return YardPolicy(
        name=settings.YARD_NAME,
        zone=ZoneInfo(settings.YARD_TIME_ZONE),
        rule_set=settings.YARD_RULE_SET,
        holiday_country=COUNTRIES[settings.YARD_RULE_SET],
        holiday_region=settings.YARD_HOLIDAY_REGION,
        pre_hire_good=timedelta(hours=settings.YARD_PRE_HIRE_GOOD_HOURS),
        pre_hire_good_closed=timedelta(hours=settings.YARD_PRE_HIRE_GOOD_CLOSED_HOURS),
        unmoved_hours=Decimal(settings.YARD_UNMOVED_TENTH_HOURS) / 10,
        unmoved_km=Decimal(settings.YARD_UNMOVED_KM),
        gate_out_good=timedelta(hours=settings.YARD_GATE_OUT_GOOD_HOURS),
        loaded_good=timedelta(hours=settings.YARD_LOADED_GOOD_HOURS),
        pre_start_by=time(settings.YARD_PRE_START_BY_HOUR),
        second_shift_at=time(settings.YARD_SECOND_SHIFT_HOUR),
        hire_days_in_week=int(settings.YARD_HIRE_DAYS_IN_WEEK),
        copy_days=settings.YARD_PRE_START_COPY_DAYS,
        due_out_lead=timedelta(hours=settings.YARD_DUE_OUT_LEAD_HOURS),
        extinguisher_lead=timedelta(days=settings.YARD_EXTINGUISHER_LEAD_DAYS),
        document_lead=timedelta(days=settings.YARD_DOCUMENT_LEAD_DAYS),
        meter_stale=timedelta(days=settings.YARD_METER_STALE_DAYS),
        workshop_day=timedelta(hours=settings.YARD_WORKSHOP_DAY_HOURS),
        closed_days=frozenset(
            date.fromisoformat(day.strip()) for day in settings.YARD_CLOSED_DAYS.split(",") if day.strip()
        ),
        returning_within=timedelta(days=settings.YARD_RETURNING_DAYS),
        pattern_within=timedelta(days=settings.YARD_PATTERN_DAYS),
        watch_for=timedelta(days=settings.YARD_WATCH_DAYS),
        unseen_for=timedelta(days=settings.YARD_UNSEEN_DAYS),
        permit_longest=timedelta(hours=settings.YARD_MOVE_PERMIT_HOURS),
        permit_km_h=settings.YARD_MOVE_PERMIT_KM_H,
        spoken_pass_for=timedelta(hours=settings.YARD_SPOKEN_PASS_HOURS),
        tyre_lead=timedelta(days=settings.YARD_TYRE_LEAD_DAYS),
        customer_link_life=timedelta(days=settings.YARD_CUSTOMER_LINK_DAYS),
        collection_link_good=timedelta(hours=settings.YARD_COLLECTION_LINK_HOURS),
        turn_round=timedelta(hours=settings.YARD_TURN_ROUND_HOURS),
        pencil_for=timedelta(hours=settings.YARD_PENCIL_HOURS),
        quote_days=settings.YARD_QUOTE_DAYS,
        run_sheet_at=settings.YARD_RUN_SHEET_AT,
        off_hire_cut_off=time(settings.YARD_OFF_HIRE_CUT_OFF_HOUR),
        site_pack_days=settings.YARD_SITE_PACK_DAYS,
        booking_lead_days=settings.YARD_BOOKING_LEAD_DAYS,
        move_lead=timedelta(hours=settings.YARD_MOVE_LEAD_HOURS),
        order_low_pct=settings.YARD_ORDER_LOW_PCT,
        pick_up_days=settings.YARD_PICK_UP_DAYS,
        decide_days=settings.YARD_DECIDE_DAYS,
        quiet_from=settings.YARD_QUIET_FROM,
        quiet_until=settings.YARD_QUIET_UNTIL,
        digest_at=settings.YARD_DIGEST_AT,
        working_days=frozenset(DAYS.index(day) for day in settings.YARD_WORKING_DAYS),
        stop_next_after=timedelta(minutes=settings.YARD_STOP_NEXT_MINUTES),
        stop_manager_after=timedelta(minutes=settings.YARD_STOP_MANAGER_MINUTES),
        tablet_sign_in_good=timedelta(hours=settings.YARD_TABLET_SIGN_IN_HOURS),
        tread_steer_mm=Decimal(settings.YARD_TREAD_STEER_TENTHS_MM) / 10,
        tread_other_mm=Decimal(settings.YARD_TREAD_OTHER_TENTHS_MM) / 10,
        head_tolerance_pct=Decimal(settings.YARD_HEAD_TOLERANCE_PCT),
        potable_after_bore=settings.YARD_POTABLE_AFTER_BORE == "yes",
        sanitise_for=timedelta(hours=settings.YARD_SANITISE_HOURS),
        water_stands_days=settings.YARD_WATER_STANDS_DAYS,
        crew=settings.YARD_CREW,
        kit_kg=settings.YARD_KIT_KG,
        mud_kg=settings.YARD_MUD_KG,
        weight_margin_kg=settings.YARD_WEIGHT_MARGIN_KG,
    )


def yard_day(at: datetime) -> date:
    """The yard's calendar day at an instant (aware)."""
    return at.astimezone(yard_policy().zone).date()


def day_bounds(on: date) -> tuple[datetime, datetime]:
    """Half-open [start, end) of the yard's calendar day, in UTC; 23 or 25 hours on clock-change days."""
    zone = yard_policy().zone
    start = datetime.combine(on, time.min, zone)
    end = datetime.combine(on + timedelta(days=1), time.min, zone)
    return start.astimezone(UTC), end.astimezone(UTC)


def at_local(on: date, hour: time) -> datetime:
    """The instant, in UTC, of a local time on the yard's day."""
    return datetime.combine(on, hour, yard_policy().zone).astimezone(UTC)
