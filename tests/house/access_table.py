"""Who may open what: one row an address, and an address without a row fails tests/house/test_access.py.

A row says which roles open it, which methods it answers, and what thing its address names. Everything else follows:
another role meets 403, another method 405, a thing that is not there 404, and nobody signed in meets the sign-in page.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from people.roles import DESK, EVERYBODY, FLEET_ONLY, MANAGERS, PIN_HOLDERS, WALKERS, WORKSHOP, Role

AT_THE_GATE = DESK | {Role.YARD_HAND, Role.WORKSHOP_MANAGER}
MANAGERS_AND_DESK = MANAGERS | DESK
READS, ASKS, DOES = ("GET",), ("GET", "POST"), ("POST",)
WHOSE_ALERT = frozenset({Role.FITTER, Role.FLEET_MANAGER})
NOBODY: frozenset[Role] = frozenset()


@dataclass(frozen=True)
class Route:
    """roles: who may open it signed in. methods: what it answers. things: what each part of its address names.

    door: "staff" (sign in first), "open" (anybody), "wire" (JSON: 401, never a redirect), "link" (a customer's token) or
    "plate" (whoever stands at a cart). get, post: the answers to a bare visit and to an empty form. own: the thing
    belongs to one role, and for the other roles let in it is not there.
    """

    roles: frozenset[Role]
    methods: tuple[str, ...] = READS
    things: tuple[str, ...] = ()
    door: str = "staff"
    get: tuple[int, ...] = (200,)
    post: tuple[int, ...] = (422,)
    own: frozenset[Role] = EVERYBODY
    # The thing whose query string the address carries besides.
    query: str = ""


def _done(roles: frozenset[Role], *things: str, own: frozenset[Role] = EVERYBODY) -> Route:
    """Answers a press of a button: does it, or says why not, and leads back."""
    return Route(roles, DOES, things, post=(302,), own=own)


def _asked(roles: frozenset[Role], *things: str, get: tuple[int, ...] = (200,)) -> Route:
    """A page with a form; an empty form comes back."""
    return Route(roles, ASKS, things, get=get)


def _read(roles: frozenset[Role], *things: str, get: tuple[int, ...] = (200,)) -> Route:
    return Route(roles, READS, things, get=get)


ROUTES = MappingProxyType(
    {
        "home": _read(EVERYBODY, get=(200, 302)),
        "find": _read(EVERYBODY),
        "healthz": Route(EVERYBODY, door="open"),
        "readyz": Route(EVERYBODY, door="open", get=(200, 503)),
        "people:sign_in": Route(EVERYBODY, ASKS, door="open"),
        "people:sign_out": _done(EVERYBODY),
        "people:staff_list": _read(FLEET_ONLY),
        "people:staff_add": _asked(FLEET_ONLY),
        "people:staff_change": _asked(FLEET_ONLY, "staff"),
        "people:staff_access": _done(FLEET_ONLY, "staff"),
        "tablets:tablet_list": _asked(MANAGERS),
        "tablets:tablet_end": _done(MANAGERS, "tablet"),
        "tablets:pin_set": _asked(PIN_HOLDERS),
        "fleet:cart_list": _read(EVERYBODY),
        "fleet:cart_add": _asked(MANAGERS),
        "fleet:cart_detail": _read(EVERYBODY, "cart"),
        "fleet:cart_change": _asked(MANAGERS, "cart"),
        "fleet:axles_change": _asked(MANAGERS, "cart"),
        "fleet:cart_move": _asked(EVERYBODY, "cart"),
        "fleet:gear_list": _asked(WORKSHOP, "cart"),
        "fleet:gear_remove": _asked(WORKSHOP, "fitment"),
        "fleet:tyre_fit": _asked(WORKSHOP, "cart"),
        "fleet:tyre_take_off": _asked(WORKSHOP, "fitting"),
        "fleet:meter_change": _asked(WORKSHOP, "cart"),
        "fleet:question_settle": _asked(WORKSHOP, "question"),
        "fleet:extinguisher_place": _asked(WORKSHOP, "cart"),
        "fleet:extinguisher_service": _asked(WORKSHOP, "extinguisher"),
        "fleet:extinguisher_used": _asked(EVERYBODY, "extinguisher"),
        "fleet:document_add": _asked(FLEET_ONLY, "cart"),
        "fleet:yard_document_add": _asked(FLEET_ONLY),
        "fleet:water_list": _read(EVERYBODY, "cart"),
        "fleet:water_fill": _asked(WALKERS, "cart"),
        "fleet:tank_sanitise": _asked(WALKERS, "cart"),
        "fleet:water_strike": _asked(MANAGERS, "water"),
        "fleet:sanitising_test": _asked(WALKERS, "sanitising"),
        "fleet:sanitising_strike": _asked(MANAGERS, "sanitising"),
        "fleet:weights": _read(EVERYBODY, "cart"),
        "fleet:load_plot": _read(EVERYBODY, "cart"),
        "fleet:dip_table": _read(EVERYBODY, "cart"),
        "fleet:tank_measure": _asked(MANAGERS, "cart"),
        "fleet:plates_record": _asked(MANAGERS, "cart"),
        "fleet:ticket_record": _asked(MANAGERS, "cart"),
        "fleet:ticket_strike": _asked(MANAGERS, "ticket"),
        "fleet:hold_place": _asked(EVERYBODY, "cart"),
        "fleet:hold_lift": _asked(MANAGERS, "hold"),
        "fleet:pass_give": Route(MANAGERS, ASKS, ("cart",), query="late"),
        "fleet:pass_close": _done(MANAGERS, "pass"),
        "fleet:limit_lift": _done(MANAGERS, "limit"),
        "fleet:lap": _read(EVERYBODY, "cart"),
        "fleet:spray_sheet": _read(EVERYBODY, "cart"),
        "fleet:spray_print": _read(EVERYBODY, "cart"),
        "fleet:spray_record": _asked(WORKSHOP, "cart"),
        "fleet:evenness_list": _read(EVERYBODY, "cart"),
        "fleet:evenness_record": _asked(WALKERS, "cart"),
        "fleet:evenness_trend": _read(EVERYBODY, "cart"),
        "fleet:evenness_detail": _read(EVERYBODY, "evenness_test"),
        "fleet:plate_print": _read(EVERYBODY, "cart"),
        "fleet:photo": _read(EVERYBODY, "photo"),
        # Whoever is not signed in is shown two ways on, the same for every plate.
        "fleet:plate": Route(EVERYBODY, READS, ("plate",), door="plate", get=(302,)),
        "alerts:alert_list": _read(EVERYBODY),
        "alerts:alert_live": _read(EVERYBODY),
        "alerts:alert_count": _read(EVERYBODY),
        "alerts:on_call_list": _asked(MANAGERS),
        "alerts:on_call_remove": _done(MANAGERS, "on_call"),
        "alerts:alert_report": _read(MANAGERS),
        "alerts:alert_take": _done(EVERYBODY, "alert", own=WHOSE_ALERT),
        "alerts:alert_set_aside": Route(EVERYBODY, ASKS, ("alert",), own=WHOSE_ALERT),
        "alerts:alert_bring_back": _done(EVERYBODY, "alert", own=WHOSE_ALERT),
        # The page is the same for everybody and empty: what it shows comes over the wire.
        "inspections:capture": Route(EVERYBODY, door="open"),
        "inspections:capture_worker": Route(EVERYBODY, door="open"),
        "inspections:site_manifest": Route(EVERYBODY, READS, ("hire",), door="open"),
        "inspections:sync_hello": Route(EVERYBODY, door="open"),
        "inspections:sync_reference": Route(WALKERS, door="wire"),
        "inspections:sync_lap": Route(WALKERS, READS, ("cart",), door="wire"),
        # No browser of these is an enrolled tablet.
        "inspections:sync_change_over": Route(EVERYBODY, ASKS, door="open", get=(403,), post=(403,)),
        "inspections:sync_name": Route(WALKERS, DOES, ("walk_round",), door="wire", post=(403,)),
        "inspections:sync_held": Route(WALKERS, door="wire"),
        "inspections:sync_photo": Route(WALKERS, ("GET", "PUT"), ("sha256",), door="wire"),
        "inspections:sync_walk_round": Route(WALKERS, ("PUT",), ("new_id",), door="wire"),
        "inspections:walk_round_list": _read(EVERYBODY),
        "inspections:walk_round_detail": _read(EVERYBODY, "walk_round"),
        "inspections:name_confirm": _done(EVERYBODY, "walk_round"),
        "inspections:check_accept": _done(MANAGERS, "walk_round"),
        "inspections:question_list": _read(MANAGERS),
        "inspections:question_rest": _asked(MANAGERS, "walk_round", "question_code"),
        "inspections:sheet_list": _read(MANAGERS),
        "inspections:check_add": _asked(MANAGERS),
        "inspections:publish": _done(MANAGERS),
        "inspections:check_change": _asked(MANAGERS, "check"),
        "inspections:check_retire": _done(MANAGERS, "check"),
        "inspections:check_take_back": _done(MANAGERS, "check"),
        "inspections:verify_find": Route(EVERYBODY, door="open"),
        "inspections:verify": Route(EVERYBODY, ASKS, ("code",), door="open", post=(200,)),
        "inspections:certificate_detail": _read(EVERYBODY, "certificate"),
        "inspections:certificate_withdraw": _done(MANAGERS_AND_DESK, "certificate"),
        "inspections:certificate_file": _read(EVERYBODY, "certificate"),
        "servicing:defect_list": _read(WORKSHOP),
        "servicing:defect_add": _asked(EVERYBODY),
        "servicing:hold_list": _read(WORKSHOP),
        "servicing:week_list": _read(WORKSHOP | DESK),
        "servicing:plan_list": _read(WORKSHOP),
        "servicing:plan_add": _asked(MANAGERS),
        "servicing:plan_change": _asked(MANAGERS, "plan"),
        "servicing:plan_end": _done(MANAGERS, "plan"),
        "servicing:last_done": _asked(WORKSHOP, "plan"),
        "servicing:service_due_detail": _read(EVERYBODY, "service_due"),
        "servicing:service_record": _asked(WORKSHOP, "cart"),
        "servicing:service_strike": _asked(MANAGERS, "service_done"),
        "servicing:visit_book": _asked(MANAGERS, "cart"),
        "servicing:visit_cancel": _done(MANAGERS, "visit"),
        "servicing:defect_detail": _read(EVERYBODY, "defect"),
        "servicing:defect_step": Route(WALKERS, ASKS, ("defect", "step"), get=(302,), post=(422, 403)),
        # Nothing is ticked; no sheet is asked for.
        "servicing:defects_together": Route(WORKSHOP, DOES),
        "servicing:pattern_detail": _read(WORKSHOP, "check_told"),
        "servicing:job_sheets": _read(WORKSHOP),
        "servicing:job_sheet": _read(WORKSHOP, "defect"),
        "servicing:job_act": Route(WORKSHOP, ASKS, ("defect", "job_act"), get=(302,)),
        "servicing:part_strike": _done(WORKSHOP, "part"),
        "servicing:fix_end": _done(WORKSHOP, "defect"),
        "servicing:spare_add": _asked(WORKSHOP),
        "servicing:extinguisher_exchange": _asked(WORKSHOP, "extinguisher"),
        "servicing:extinguisher_condemn": _asked(WORKSHOP, "extinguisher"),
        "servicing:extinguisher_detail": _read(EVERYBODY, "extinguisher"),
        "servicing:tyre_fitting_detail": _read(EVERYBODY, "fitting"),
        "servicing:tyre_wear": _read(EVERYBODY, "fitting"),
        "servicing:tyre_change": _asked(WORKSHOP, "fitting"),
        "servicing:tyre_list": _read(WORKSHOP),
        "servicing:wheel_refit": _asked(WORKSHOP, "cart"),
        "servicing:retorque_list": _read(WORKSHOP),
        "servicing:retorque_detail": _read(EVERYBODY, "retorque"),
        "servicing:retorque_check": Route(WORKSHOP, DOES, ("retorque",)),
        "hire:line_list": _read(DESK),
        "hire:line_past": _read(DESK),
        "hire:line_add": _asked(DESK),
        "hire:enquiry": _read(DESK),
        "hire:rate_list": _read(MANAGERS_AND_DESK),
        "hire:rate_set": _asked(MANAGERS_AND_DESK),
        "hire:rate_end": _done(MANAGERS_AND_DESK, "rate_card"),
        "hire:terms_agree": _asked(DESK, "line"),
        "hire:charges": _read(DESK, "line"),
        "hire:beside_add": _asked(DESK, "line"),
        "hire:beside_strike": _done(DESK, "beside"),
        "hire:docket_make": _done(DESK, "line"),
        "hire:docket_detail": _read(DESK, "docket"),
        "hire:docket_file": _read(DESK, "docket", get=(404,)),
        "hire:hire_grid": _read(MANAGERS_AND_DESK),
        "hire:booking_list": _asked(DESK),
        "hire:booking_add": _asked(DESK),
        "hire:booking_cancel": _asked(DESK, "booking"),
        "hire:pencil_add": _asked(DESK, "cart"),
        "hire:pencil_let_go": _done(DESK, "pencil"),
        "hire:line_detail": _read(EVERYBODY, "line"),
        "hire:line_move": _asked(DESK, "line"),
        "hire:line_cancel": _asked(DESK, "line"),
        "hire:line_stand_down": _asked(DESK, "line"),
        "hire:certificate_issue": _done(DESK, "line"),
        "hire:handover": _asked(AT_THE_GATE, "line"),
        "hire:back": _asked(AT_THE_GATE, "line"),
        "hire:off_hire_call": _asked(DESK, "line"),
        "hire:line_swap": _asked(DESK, "line"),
        "hire:off_hire_cancel": _asked(DESK, "off_hire"),
        "hire:off_hire_left": _asked(AT_THE_GATE, "off_hire"),
        "hire:off_hire_failed": _asked(AT_THE_GATE, "off_hire"),
        "hire:job_plan": _read(DESK),
        "hire:job_plan_keep": _done(DESK),
        "hire:job_plan_list": _read(DESK),
        "hire:job_plan_open": _read(DESK, "job_plan", get=(302,)),
        "hire:line_loads": _asked(EVERYBODY, "line"),
        "hire:load_undo": _done(EVERYBODY, "load"),
        "hire:link_make": _asked(DESK, "line"),
        "hire:link_revoke": _done(DESK, "link"),
        "hire:site_code_make": Route(DESK, DOES, ("line",), post=(200,)),
        "hire:site_walker_end": _done(DESK, "site_walker"),
        "hire:plate_open": Route(EVERYBODY, ASKS, ("plate",), door="plate", get=(302,)),
        "hire:figures": _read(MANAGERS_AND_DESK),
        "hire:customer_list": _read(DESK),
        "hire:customer_add": _asked(DESK),
        "hire:customer_detail": _read(DESK, "customer"),
        "hire:customer_change": _asked(DESK, "customer"),
        "hire:cab_card": _read(EVERYBODY, "cart"),
        "hire:customer_cab_card": Route(EVERYBODY, READS, ("token",), door="link"),
        "hire:customer_page": Route(EVERYBODY, READS, ("token",), door="link"),
        "hire:link_open": Route(EVERYBODY, ASKS, ("token",), door="link", get=(302,)),
        "hire:link_breakdown": Route(EVERYBODY, ASKS, ("token",), door="link"),
        "hire:link_plan": Route(EVERYBODY, READS, ("token",), door="link"),
        "hire:link_loads": Route(EVERYBODY, ASKS, ("token",), door="link"),
        "hire:link_load_undo": Route(EVERYBODY, DOES, ("token", "load"), door="link", post=(302,)),
        "hire:link_off_hire": Route(EVERYBODY, ASKS, ("token",), door="link"),
        "hire:customer_file": Route(EVERYBODY, READS, ("token", "certificate"), door="link"),
    }
)
