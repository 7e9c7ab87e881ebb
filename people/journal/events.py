"""Every journal event: a three-part name (app.thing.happened) and its wording, side by side.

A name is never reused or renamed: rows that carry it are sealed.
"""

from enum import StrEnum


class Event(StrEnum):
    STAFF_ADDED = "people.staff.added"
    STAFF_CHANGED = "people.staff.changed"
    STAFF_DISABLED = "people.staff.disabled"
    STAFF_ENABLED = "people.staff.enabled"
    TABLET_ENROLLED = "people.tablet.enrolled"
    TABLET_ENDED = "people.tablet.ended"
    PIN_SET = "people.pin.set"
    PIN_LOCKED = "people.pin.locked"
    CART_ADDED = "fleet.cart.added"
    CART_CHANGED = "fleet.cart.changed"
    CART_MOVED = "fleet.cart.moved"
    CART_PUT_AWAY = "fleet.cart.put_away"
    CART_TRANSFERRED = "fleet.cart.transferred"
    YARD_ADDED = "fleet.yard.added"
    YARD_CHANGED = "fleet.yard.changed"
    GEAR_FITTED = "fleet.gear.fitted"
    GEAR_REMOVED = "fleet.gear.removed"
    TYRE_FITTED = "fleet.tyre.fitted"
    TYRE_TAKEN_OFF = "fleet.tyre.taken_off"
    RETORQUE_OPENED = "servicing.retorque.opened"
    RETORQUE_FIRST = "servicing.retorque.first"
    RETORQUE_SECOND = "servicing.retorque.second"
    EXTINGUISHER_PLACED = "fleet.extinguisher.placed"
    EXTINGUISHER_SERVICED = "fleet.extinguisher.serviced"
    METER_CHANGED = "fleet.meter.changed"
    QUESTION_SETTLED = "fleet.question.settled"
    DOCUMENT_RECORDED = "fleet.document.recorded"
    PHOTO_TAKEN_IN = "fleet.photo.taken_in"
    HOLD_PLACED = "fleet.hold.placed"
    HOLD_LIFTED = "fleet.hold.lifted"
    DEFECT_TOLD = "fleet.defect.told"
    DEFECT_LOOKED_AT = "fleet.defect.looked_at"
    DEFECT_REGRADED = "fleet.defect.regraded"
    DEFECT_NO_FAULT = "fleet.defect.no_fault"
    DEFECT_SAME_AS = "fleet.defect.same_as"
    DEFECT_PUT_OFF = "fleet.defect.put_off"
    DEFECT_ASSIGNED = "fleet.defect.assigned"
    REPAIR_STARTED = "fleet.repair.started"
    REPAIR_DONE = "fleet.repair.done"
    REPAIR_SECOND_LOOK = "fleet.repair.second_look"
    REPAIR_SENT_BACK = "fleet.repair.sent_back"
    EXTINGUISHER_SHELVED = "fleet.extinguisher.shelved"
    EXTINGUISHER_EXCHANGED = "fleet.extinguisher.exchanged"
    EXTINGUISHER_CONDEMNED = "fleet.extinguisher.condemned"
    JOB_ON = "servicing.job.on"
    JOB_OFF = "servicing.job.off"
    PART_USED = "servicing.part.used"
    PART_STRUCK = "servicing.part.struck"
    PASS_GIVEN = "fleet.pass.given"
    PASS_CLOSED = "fleet.pass.closed"
    PASS_SPOKEN = "fleet.pass.spoken"
    PASS_CONFIRMED = "fleet.pass.confirmed"
    PASS_DISOWNED = "fleet.pass.disowned"
    LIMIT_SET = "fleet.limit.set"
    LIMIT_LIFTED = "fleet.limit.lifted"
    MOVE_PERMITTED = "fleet.move_permit.given"
    MOVE_BEGUN = "fleet.move_permit.left"
    MOVE_ENDED = "fleet.move_permit.came"
    MOVE_WITHDRAWN = "fleet.move_permit.withdrawn"
    MOVED_WITHOUT = "fleet.cart.moved_without_permit"
    SERVICE_PLAN_ADDED = "servicing.plan.added"
    SERVICE_PLAN_CHANGED = "servicing.plan.changed"
    SERVICE_PLAN_ENDED = "servicing.plan.ended"
    SERVICE_DONE = "servicing.service.done"
    SERVICE_STRUCK = "servicing.service.struck"
    VISIT_BOOKED = "servicing.visit.booked"
    VISIT_CANCELLED = "servicing.visit.cancelled"
    ALERT_TAKEN = "fleet.alert.taken"
    ALERT_SET_ASIDE = "fleet.alert.set_aside"
    ALERT_BROUGHT_BACK = "fleet.alert.brought_back"
    ON_CALL_ADDED = "fleet.on_call.added"
    ON_CALL_REMOVED = "fleet.on_call.removed"
    SHEET_PUBLISHED = "inspections.sheet.published"
    WALK_ROUND_SIGNED = "inspections.walk_round.signed"
    NAME_CONFIRMED = "inspections.walk_round.name_confirmed"
    CHECK_ACCEPTED = "inspections.walk_round.accepted"
    SITE_WALKER_OPENED = "inspections.site_walker.opened"
    SITE_WALKER_REVOKED = "inspections.site_walker.revoked"
    SITE_WALKERS_OVER = "inspections.site_walker.over"
    SITE_WALKERS_AGAIN = "inspections.site_walker.again"
    QUESTION_RESTED = "inspections.question.rested"
    CERTIFICATE_ISSUED = "inspections.certificate.issued"
    CERTIFICATE_SEALED = "inspections.certificate.sealed"
    CERTIFICATE_WITHDRAWN = "inspections.certificate.withdrawn"
    CUSTOMER_ADDED = "hire.customer.added"
    CUSTOMER_CHANGED = "hire.customer.changed"
    AGREEMENT_MADE = "hire.agreement.made"
    LINE_ADDED = "hire.line.added"
    LINE_CANCELLED = "hire.line.cancelled"
    LINE_MOVED = "hire.line.moved"
    WORK_CHANGED = "hire.agreement.work_changed"
    PENCILLED = "hire.pencil.made"
    PENCIL_LET_GO = "hire.pencil.let_go"
    BOOKING_MADE = "hire.booking.made"
    BOOKING_CANCELLED = "hire.booking.cancelled"
    BOOKINGS_PROMISED = "hire.booking.promised"
    RATES_SET = "hire.rates.set"
    RATES_ENDED = "hire.rates.ended"
    TERMS_AGREED = "hire.terms.agreed"
    BESIDE_CHARGED = "hire.beside.charged"
    BESIDE_STRUCK = "hire.beside.struck"
    SAID_WORKED = "hire.worked_day.said"
    WORKED_STRUCK = "hire.worked_day.struck"
    HOURS_AGREED = "hire.hours.agreed"
    HOURS_STRUCK = "hire.hours.struck"
    QUOTE_WRITTEN = "hire.quote.written"
    QUOTE_LETTER_WRITTEN = "hire.quote.letter_written"
    QUOTE_SENT = "hire.quote.sent"
    QUOTE_CAME_BACK = "hire.quote.came_back"
    DOCKET_MADE = "hire.docket.made"
    DEPOSIT_ASKED = "hire.deposit.asked"
    DEPOSIT_TAKEN = "hire.deposit.taken"
    DEPOSIT_GIVEN_BACK = "hire.deposit.given_back"
    DEPOSIT_SET_OFF = "hire.deposit.set_off"
    DISPUTE_OPENED = "hire.dispute.opened"
    DISPUTE_SAID = "hire.dispute.said"
    DISPUTE_DECIDED = "hire.dispute.decided"
    DRIVER_WRITTEN = "hire.driver.written"
    DRIVER_STRUCK = "hire.driver.struck"
    FINE_WRITTEN = "hire.fine.written"
    DISPUTE_PACK_TAKEN = "hire.dispute_pack.taken"
    HOLIDAY_DECIDED = "hire.holiday.decided"
    HOLIDAY_TAKEN_BACK = "hire.holiday.taken_back"
    RUN_NOTED = "hire.run.noted"
    KIT_COUNTED = "hire.kit.counted"
    FOUND_TOLD_APART = "hire.found.told_apart"
    FOUND_CHARGED = "hire.found.charged"
    FOUND_LET_GO = "hire.found.let_go"
    STOOD_DOWN = "hire.line.stood_down"
    STAND_DOWN_STRUCK = "hire.stand_down.struck"
    STAND_DOWN_CLAIMED = "hire.stand_down.claimed"
    CLAIM_AGREED = "hire.stand_down.agreed"
    CLAIM_REFUSED = "hire.stand_down.refused"
    SERVICE_OFFERED = "hire.service.offered"
    SERVICE_AGREED = "hire.service.agreed"
    SERVICE_REFUSED = "hire.service.refused"
    SERVICE_OFFER_STRUCK = "hire.service.offer_struck"
    HANDED_OVER = "hire.line.handed_over"
    FLOAT_LOADED = "hire.float.loaded"
    FLOAT_UNLOADED = "hire.float.unloaded"
    HANDOVER_LOOKED_AT = "hire.line.handover_looked_at"
    BACK_IN_YARD = "hire.line.back_in_yard"
    NOT_BACK = "hire.line.not_back"
    BREAKDOWN_REPORTED = "hire.breakdown.reported"
    CART_SWAPPED = "hire.line.swapped"
    ANOTHER_CART = "hire.line.another_cart"
    OFF_HIRED = "hire.off_hire.called"
    OFF_HIRE_CANCELLED = "hire.off_hire.cancelled"
    LEFT_SITE = "hire.off_hire.left_site"
    NOT_LEFT_SITE = "hire.off_hire.not_left_site"
    PICK_UP_FAILED = "hire.off_hire.pick_up_failed"
    LINK_MADE = "hire.link.made"
    LINK_REVOKED = "hire.link.revoked"
    SITE_CODE_MADE = "hire.site_code.made"
    OWNER_ADDED = "hire.owner.added"
    OWNER_CHANGED = "hire.owner.changed"
    OWNER_PAPER_RECORDED = "hire.owner.paper_recorded"
    HIRED_IN = "hire.hire_in.made"
    HIRE_IN_CHANGED = "hire.hire_in.changed"
    HIRE_IN_STRUCK = "hire.hire_in.struck"
    OWNER_CALLED_OFF = "hire.hire_in.called_off"
    OWNER_CALL_CANCELLED = "hire.hire_in.call_cancelled"
    BACK_WITH_OWNER = "hire.hire_in.returned"
    OPERATOR_ADDED = "hire.operator.added"
    OPERATOR_ENDED = "hire.operator.ended"
    OPERATOR_LINK_MADE = "hire.operator_link.made"
    OPERATOR_LINK_ENDED = "hire.operator_link.ended"
    COLLECTION_LINK_MADE = "hire.collection_link.made"
    COLLECTION_LINK_ENDED = "hire.collection_link.ended"
    TICKET_RECORDED = "hire.ticket.recorded"
    TICKET_STRUCK = "hire.ticket.struck"
    WET_SET = "hire.line.wet"
    DRY_SET = "hire.line.dry"
    OPERATOR_PUT = "hire.turn.made"
    OPERATOR_TAKEN_OFF = "hire.turn.ended"
    DAILY_DOCKET_MADE = "hire.daily_docket.made"
    DAILY_DOCKET_SIGNED = "hire.daily_docket.signed"
    SITE_SET_WRITTEN = "hire.site_set.written"
    TURNED_AWAY = "hire.line.turned_away"
    PACK_MADE = "hire.pack.made"
    PACK_SENT = "hire.pack.sent"
    PACK_ANSWERED = "hire.pack.answered"
    CONTACT_ADDED = "hire.contact.added"
    CONTACT_CHANGED = "hire.contact.changed"
    CONTACT_ENDED = "hire.contact.ended"
    LETTER_WRITTEN = "hire.letter.written"
    LETTER_SENT = "hire.letter.sent"
    LETTER_CAME_BACK = "hire.letter.came_back"
    LETTER_SETTLED = "hire.letter.settled"
    PRE_START_SAID = "hire.pre_start.said"
    PRE_START_COPY_KEPT = "hire.pre_start_copy.kept"
    PRE_START_COPY_NONE = "hire.pre_start_copy.none"
    ORDER_SET = "hire.order.set"
    WATER_CARRIED = "fleet.water.carried"
    WATER_STRUCK = "fleet.water.struck"
    TANK_SANITISED = "fleet.sanitising.recorded"
    TANK_TESTED = "fleet.sanitising.tested"
    SANITISING_STRUCK = "fleet.sanitising.struck"
    SPRAY_FIGURES = "fleet.spray_figures.recorded"
    HEADS_TESTED = "fleet.heads.tested"
    LOAD_TAKEN = "hire.load.taken"
    LOAD_UNDONE = "hire.load.undone"
    HIRE_WATER_TOLD = "hire.water.told"
    JOB_PLANNED = "hire.job.planned"
    TANK_MEASURED = "fleet.tank.measured"
    PLATES_RECORDED = "fleet.plates.recorded"
    CART_WEIGHED = "fleet.weighing.recorded"
    WEIGHING_STRUCK = "fleet.weighing.struck"


WORDING: dict[Event, str] = {
    Event.STAFF_ADDED: "added a person",
    Event.STAFF_CHANGED: "changed a person's details",
    Event.STAFF_DISABLED: "ended a person's access",
    Event.STAFF_ENABLED: "gave a person access again",
    Event.TABLET_ENROLLED: "enrolled a shared tablet",
    Event.TABLET_ENDED: "ended a shared tablet",
    Event.PIN_SET: "set a PIN for shared tablets",
    Event.PIN_LOCKED: "locked a PIN with ten wrong tries",
    Event.CART_ADDED: "added the cart",
    Event.CART_CHANGED: "changed the cart's details",
    Event.CART_MOVED: "recorded where the cart is",
    Event.CART_PUT_AWAY: "put the cart away locked, its keys in",
    Event.CART_TRANSFERRED: "made another yard the cart's home",
    Event.YARD_ADDED: "added a yard",
    Event.YARD_CHANGED: "changed a yard's details",
    Event.GEAR_FITTED: "recorded gear as fitted",
    Event.GEAR_REMOVED: "recorded gear as taken off",
    Event.TYRE_FITTED: "fitted a tyre",
    Event.TYRE_TAKEN_OFF: "took a tyre off",
    Event.RETORQUE_OPENED: "had a wheel off: its nuts are to be checked again",
    Event.RETORQUE_FIRST: "checked wheel nuts before leaving",
    Event.RETORQUE_SECOND: "recorded wheel nuts as checked after the first km",
    Event.EXTINGUISHER_PLACED: "put an extinguisher on the cart",
    Event.EXTINGUISHER_SERVICED: "recorded an extinguisher service",
    Event.METER_CHANGED: "recorded a meter change",
    Event.QUESTION_SETTLED: "settled a question about a reading",
    Event.DOCUMENT_RECORDED: "recorded a document",
    Event.PHOTO_TAKEN_IN: "took in a photo",
    Event.HOLD_PLACED: "tagged the cart out",
    Event.HOLD_LIFTED: "lifted a hold",
    Event.DEFECT_TOLD: "told the workshop of a defect",
    Event.DEFECT_LOOKED_AT: "looked at a defect and set its grade",
    Event.DEFECT_REGRADED: "changed a defect's grade with a second person",
    Event.DEFECT_NO_FAULT: "found no fault",
    Event.DEFECT_SAME_AS: "closed a defect as the same as another",
    Event.DEFECT_PUT_OFF: "put a defect off",
    Event.DEFECT_ASSIGNED: "said whose job a defect is",
    Event.REPAIR_STARTED: "started on the job",
    Event.REPAIR_DONE: "recorded a repair as done",
    Event.REPAIR_SECOND_LOOK: "gave a repair its second look",
    Event.REPAIR_SENT_BACK: "sent a repair back to the job",
    Event.EXTINGUISHER_SHELVED: "put a spare extinguisher on the shelf",
    Event.EXTINGUISHER_EXCHANGED: "exchanged an extinguisher for a spare",
    Event.EXTINGUISHER_CONDEMNED: "condemned an extinguisher",
    Event.JOB_ON: "put themselves on a job",
    Event.JOB_OFF: "came off a job",
    Event.PART_USED: "put down a part used in a repair",
    Event.PART_STRUCK: "struck out a part put down in error",
    Event.PASS_GIVEN: "passed something by authority",
    Event.PASS_CLOSED: "closed a pass",
    Event.PASS_SPOKEN: "entered a pass that a manager gave by phone",
    Event.PASS_CONFIRMED: "confirmed a pass given by phone",
    Event.PASS_DISOWNED: "said that a pass entered as given by phone was never given",
    Event.LIMIT_SET: "isolated and tagged gear, so that the cart goes with a limit",
    Event.LIMIT_LIFTED: "lifted a limit",
    Event.MOVE_PERMITTED: "gave the held cart a move permit",
    Event.MOVE_BEGUN: "let the held cart leave on its move permit",
    Event.MOVE_ENDED: "recorded where the held cart came to on its move permit",
    Event.MOVE_WITHDRAWN: "withdrew a move permit",
    Event.MOVED_WITHOUT: "recorded that the held cart moved without a move permit",
    Event.SERVICE_PLAN_ADDED: "added a service that comes round",
    Event.SERVICE_PLAN_CHANGED: "changed a service that comes round",
    Event.SERVICE_PLAN_ENDED: "ended a service that comes round",
    Event.SERVICE_DONE: "recorded a service as done",
    Event.SERVICE_STRUCK: "struck out a service written down wrongly",
    Event.VISIT_BOOKED: "booked a workshop day",
    Event.VISIT_CANCELLED: "cancelled a workshop day",
    Event.ALERT_TAKEN: "took an alert in hand",
    Event.ALERT_SET_ASIDE: "set an alert aside",
    Event.ALERT_BROUGHT_BACK: "let a set-aside alert ask again",
    Event.ON_CALL_ADDED: "put a person on call",
    Event.ON_CALL_REMOVED: "took a person's turn on call off the roster",
    Event.SHEET_PUBLISHED: "published a new issue of the check sheets",
    Event.WALK_ROUND_SIGNED: "signed a walk-round",
    Event.NAME_CONFIRMED: "confirmed having signed a walk-round that another sent in",
    Event.CHECK_ACCEPTED: "accepted a check that was signed on site",
    Event.SITE_WALKER_OPENED: "opened the pre-start on a phone",
    Event.SITE_WALKER_REVOKED: "ended the pre-start on a customer's phone",
    Event.SITE_WALKERS_OVER: "closed the pre-start on the hire's phones",
    Event.SITE_WALKERS_AGAIN: "opened the pre-start again on the hire's phones",
    Event.QUESTION_RESTED: "put a question about a walk-round to rest",
    Event.CERTIFICATE_ISSUED: "issued a paper",
    Event.CERTIFICATE_SEALED: "sealed a paper",
    Event.CERTIFICATE_WITHDRAWN: "withdrew a paper",
    Event.CUSTOMER_ADDED: "added a customer",
    Event.CUSTOMER_CHANGED: "changed a customer's details",
    Event.AGREEMENT_MADE: "made a hire agreement",
    Event.LINE_ADDED: "put the cart on a hire agreement",
    Event.LINE_CANCELLED: "cancelled the cart's hire",
    Event.LINE_MOVED: "changed the cart's hire period",
    Event.WORK_CHANGED: "changed what was said of a hire's work",
    Event.PENCILLED: "pencilled the cart for a caller",
    Event.PENCIL_LET_GO: "let go of a cart pencilled for a caller",
    Event.BOOKING_MADE: "booked a hire, the cart to be chosen later",
    Event.BOOKING_CANCELLED: "cancelled a booking",
    Event.BOOKINGS_PROMISED: "promised carts for open bookings",
    Event.RATES_SET: "set the prices of a rate card",
    Event.RATES_ENDED: "ended a rate card",
    Event.TERMS_AGREED: "wrote down the rate agreed for the cart's hire",
    Event.BESIDE_CHARGED: "charged something beside the cart's hire",
    Event.BESIDE_STRUCK: "struck out a charge beside the cart's hire",
    Event.SAID_WORKED: "wrote down who says that the cart worked on a day",
    Event.WORKED_STRUCK: "struck out that the cart worked on a day",
    Event.HOURS_AGREED: "wrote down the hours that both sides agreed for days of the hire",
    Event.HOURS_STRUCK: "struck out the hours agreed for days of the hire",
    Event.QUOTE_WRITTEN: "wrote a quote",
    Event.QUOTE_LETTER_WRITTEN: "wrote a letter with a quote",
    Event.QUOTE_SENT: "sent a quote by email",
    Event.QUOTE_CAME_BACK: "told that a letter with a quote came back",
    Event.DOCKET_MADE: "made a hire docket",
    Event.DEPOSIT_ASKED: "asked for a deposit",
    Event.DEPOSIT_TAKEN: "took a deposit",
    Event.DEPOSIT_GIVEN_BACK: "gave a deposit back",
    Event.DEPOSIT_SET_OFF: "set a deposit off against a docket",
    Event.DISPUTE_OPENED: "wrote down that a docket line is disputed",
    Event.DISPUTE_SAID: "wrote down what a side says of a disputed line",
    Event.DISPUTE_DECIDED: "decided a disputed docket line",
    Event.DRIVER_WRITTEN: "wrote down who drove the cart on hire",
    Event.DRIVER_STRUCK: "struck out somebody written down as the driver",
    Event.FINE_WRITTEN: "wrote down a fine or toll and who had the cart",
    Event.DISPUTE_PACK_TAKEN: "took out the dispute pack of a hire",
    Event.HOLIDAY_DECIDED: "added or struck a public holiday of the yard",
    Event.HOLIDAY_TAKEN_BACK: "let the calendar count again for a day",
    Event.RUN_NOTED: "wrote down the cart's run for its driver",
    Event.KIT_COUNTED: "counted the kit that came back with the cart",
    Event.FOUND_TOLD_APART: "said whether something found again is new",
    Event.FOUND_CHARGED: "charged something found when the cart came back",
    Event.FOUND_LET_GO: "let go of something found when the cart came back",
    Event.STOOD_DOWN: "stood the cart down for a day",
    Event.STAND_DOWN_STRUCK: "struck out a day stood down",
    Event.STAND_DOWN_CLAIMED: "claimed a day as stood down",
    Event.CLAIM_AGREED: "agreed a day claimed as stood down",
    Event.CLAIM_REFUSED: "refused a day claimed as stood down",
    Event.SERVICE_OFFERED: "offered a service on site",
    Event.SERVICE_AGREED: "agreed a service on site",
    Event.SERVICE_REFUSED: "refused a service on site",
    Event.SERVICE_OFFER_STRUCK: "struck out a service offered on site",
    Event.HANDED_OVER: "handed the cart over",
    Event.FLOAT_LOADED: "looked at the cart loaded on its float",
    Event.FLOAT_UNLOADED: "looked at the cart as it was unloaded",
    Event.HANDOVER_LOOKED_AT: "looked at a handover entered late",
    Event.BACK_IN_YARD: "recorded the cart back in the yard",
    Event.NOT_BACK: "took back that the cart was in the yard",
    Event.BREAKDOWN_REPORTED: "reported a breakdown on hire",
    Event.CART_SWAPPED: "swapped a broken cart for another on its hire",
    Event.ANOTHER_CART: "sent another cart on a hire, before it left",
    Event.OFF_HIRED: "called the cart off hire",
    Event.OFF_HIRE_CANCELLED: "cancelled an off-hire call made by mistake",
    Event.LEFT_SITE: "recorded the cart as gone from site",
    Event.NOT_LEFT_SITE: "took back that the cart had left the site",
    Event.PICK_UP_FAILED: "came for the cart and could not take it",
    Event.LINK_MADE: "made a customer link",
    Event.LINK_REVOKED: "ended a customer link",
    Event.SITE_CODE_MADE: "made a site code",
    Event.OWNER_ADDED: "put an owner of hired-in carts on record",
    Event.OWNER_CHANGED: "changed an owner's details",
    Event.OWNER_PAPER_RECORDED: "recorded a paper of an owner",
    Event.HIRED_IN: "recorded the cart as hired in from its owner",
    Event.HIRE_IN_CHANGED: "changed what was agreed with the cart's owner",
    Event.HIRE_IN_STRUCK: "struck out a hire from an owner written down wrongly",
    Event.OWNER_CALLED_OFF: "called the cart off with its owner",
    Event.OWNER_CALL_CANCELLED: "cancelled a call to the cart's owner made by mistake",
    Event.BACK_WITH_OWNER: "recorded the cart back with its owner",
    Event.OPERATOR_ADDED: "added an operator",
    Event.OPERATOR_ENDED: "took an operator out of the book",
    Event.OPERATOR_LINK_MADE: "made an operator's link",
    Event.OPERATOR_LINK_ENDED: "ended an operator's link",
    Event.COLLECTION_LINK_MADE: "gave a driver the link to collect a cart",
    Event.COLLECTION_LINK_ENDED: "ended a driver's link to collect a cart",
    Event.TICKET_RECORDED: "recorded an operator's ticket",
    Event.TICKET_STRUCK: "struck out a ticket written down wrongly",
    Event.WET_SET: "had the cart go with an operator",
    Event.DRY_SET: "had the cart go without an operator",
    Event.OPERATOR_PUT: "put an operator with the cart",
    Event.OPERATOR_TAKEN_OFF: "took an operator off the cart's hire",
    Event.DAILY_DOCKET_MADE: "made a daily docket of a wet hire",
    Event.DAILY_DOCKET_SIGNED: "had a daily docket signed by the customer",
    Event.SITE_SET_WRITTEN: "wrote down what a customer's site asks",
    Event.TURNED_AWAY: "wrote down that a site turned the cart away",
    Event.PACK_MADE: "made a site pack of the cart's papers",
    Event.PACK_SENT: "wrote down that a site pack was sent",
    Event.PACK_ANSWERED: "wrote down what the site said of its pack",
    Event.CONTACT_ADDED: "added one of a customer's people",
    Event.CONTACT_CHANGED: "changed what one of a customer's people may see, or how they are reached",
    Event.CONTACT_ENDED: "took one of a customer's people out of the book",
    Event.LETTER_WRITTEN: "wrote a letter with a paper of the cart",
    Event.LETTER_SENT: "sent a paper of the cart by email",
    Event.LETTER_CAME_BACK: "wrote down that a letter came back",
    Event.LETTER_SETTLED: "saw to a letter that came back",
    Event.PRE_START_SAID: "wrote down what was said of a lapsed pre-start",
    Event.PRE_START_COPY_KEPT: "kept a copy of a week's pre-starts from a book that is not ours",
    Event.PRE_START_COPY_NONE: "wrote down that no copy of a week's pre-starts will come",
    Event.ORDER_SET: "wrote down an order number",
    Event.WATER_CARRIED: "recorded what water the tank carried",
    Event.WATER_STRUCK: "struck out a fill written down wrongly",
    Event.TANK_SANITISED: "recorded the tank as sanitised",
    Event.TANK_TESTED: "recorded the test of a sanitised tank",
    Event.SANITISING_STRUCK: "struck out a sanitising written down wrongly",
    Event.SPRAY_FIGURES: "recorded the cart's spray figures",
    Event.HEADS_TESTED: "tested the flow and evenness of the spray heads",
    Event.LOAD_TAKEN: "put down a load of water",
    Event.LOAD_UNDONE: "took a load back that was put down wrongly",
    Event.HIRE_WATER_TOLD: "told what water the cart carried on its hire",
    Event.JOB_PLANNED: "kept a plan of a job",
    Event.TANK_MEASURED: "recorded the tank as measured",
    Event.PLATES_RECORDED: "recorded what its plates say of its weights",
    Event.CART_WEIGHED: "recorded a weighbridge ticket",
    Event.WEIGHING_STRUCK: "struck out a weighbridge ticket",
}
