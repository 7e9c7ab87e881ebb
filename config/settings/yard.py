"""What one yard decides for itself. Amounts are defaults of common practice (no source) unless a row says otherwise."""

from config.env import environment as env

YARD_NAME = env.text("YARD_NAME", "Redgum Flat Water Carts")
YARD_ADDRESS = env.text("YARD_ADDRESS", "14 Standpipe Lane, Redgum Flat")
YARD_CONTACT = env.text("YARD_CONTACT", "desk@redgumflat.example, 08 5550 0140")
YARD_ON_CALL = env.text("YARD_ON_CALL", "08 5550 0199")
YARD_NUMBER_PREFIX = env.text("YARD_NUMBER_PREFIX", "RGF")
YARD_TIME_ZONE = env.text("YARD_TIME_ZONE", "Australia/Adelaide")
# The rules of the road, and the words on screens, papers and letters: an American yard reads of trucks and pre-trips, a British
# one of bowsers (docs/words.md).
YARD_RULE_SET = env.choice("YARD_RULE_SET", ("au", "us", "uk"), "au")

YARD_PRE_HIRE_GOOD_HOURS = env.whole("YARD_PRE_HIRE_GOOD_HOURS", 72)
# Over days the yard is closed it may be good for so long in all, where the cart was put away locked with its keys in, nothing new
# was told of it, and its meters have risen by no more than this by the gate-out check (docs/good-until.md).
YARD_PRE_HIRE_GOOD_CLOSED_HOURS = env.whole("YARD_PRE_HIRE_GOOD_CLOSED_HOURS", 120)
YARD_UNMOVED_TENTH_HOURS = env.whole("YARD_UNMOVED_TENTH_HOURS", 5)
YARD_UNMOVED_KM = env.whole("YARD_UNMOVED_KM", 5)
YARD_GATE_OUT_GOOD_HOURS = env.whole("YARD_GATE_OUT_GOOD_HOURS", 2)
# A cart loaded on a float so long before it leaves is judged by its checks at loading: on the float nobody walks it round.
YARD_LOADED_GOOD_HOURS = env.whole("YARD_LOADED_GOOD_HOURS", 24)
YARD_PRE_START_BY_HOUR = env.whole("YARD_PRE_START_BY_HOUR", 9)
YARD_SECOND_SHIFT_HOUR = env.whole("YARD_SECOND_SHIFT_HOUR", 18)
# Days a hire works in a week, from Monday on, where nobody agreed on others.
YARD_HIRE_DAYS_IN_WEEK = env.choice("YARD_HIRE_DAYS_IN_WEEK", ("5", "6", "7"), "5")
# So many days after its end a week's copy of pre-starts that are kept elsewhere is late.
YARD_PRE_START_COPY_DAYS = env.whole("YARD_PRE_START_COPY_DAYS", 3)
YARD_DUE_OUT_LEAD_HOURS = env.whole("YARD_DUE_OUT_LEAD_HOURS", 24)
YARD_EXTINGUISHER_LEAD_DAYS = env.whole("YARD_EXTINGUISHER_LEAD_DAYS", 30)
YARD_DOCUMENT_LEAD_DAYS = env.whole("YARD_DOCUMENT_LEAD_DAYS", 30)
# A cart at work whose meters nobody has read for so long: forecasts from them are old.
YARD_METER_STALE_DAYS = env.whole("YARD_METER_STALE_DAYS", 7)
# What the workshop can do in a day, all its people together.
YARD_WORKSHOP_DAY_HOURS = env.whole("YARD_WORKSHOP_DAY_HOURS", 12)
# Days the yard is shut, written 2026-12-25, with commas between.
YARD_CLOSED_DAYS = env.text("YARD_CLOSED_DAYS", "")
# A fault told again within this long of its repair has come back; one check told of on several carts within this long is a
# pattern; a defect to watch is looked at again after this long where nobody says otherwise.
YARD_RETURNING_DAYS = env.whole("YARD_RETURNING_DAYS", 90)
YARD_PATTERN_DAYS = env.whole("YARD_PATTERN_DAYS", 60)
YARD_WATCH_DAYS = env.whole("YARD_WATCH_DAYS", 28)
# Bulbs, mirrors, decals, hoses, jets: so long a repair with a photo lets a cart at work go on unseen by a second person.
YARD_UNSEEN_DAYS = env.whole("YARD_UNSEEN_DAYS", 7)
# The longest a move permit of a held cart lasts, and the most it may be driven at.
YARD_MOVE_PERMIT_HOURS = env.whole("YARD_MOVE_PERMIT_HOURS", 12)
YARD_MOVE_PERMIT_KM_H = env.whole("YARD_MOVE_PERMIT_KM_H", 60)
# A pass given by phone counts at once, and no longer than this unless the manager who spoke it confirms it.
YARD_SPOKEN_PASS_HOURS = env.whole("YARD_SPOKEN_PASS_HOURS", 12)
# A tyre has to be ordered and a wheel-off fitted between hires.
YARD_TYRE_LEAD_DAYS = env.whole("YARD_TYRE_LEAD_DAYS", 21)
YARD_CUSTOMER_LINK_DAYS = env.whole("YARD_CUSTOMER_LINK_DAYS", 30)
# So long a driver who collects a cart may do its gate-out check on the link they were given.
YARD_COLLECTION_LINK_HOURS = env.whole("YARD_COLLECTION_LINK_HOURS", 24)
# Washing and checks between two hires, and how long a caller may think.
YARD_TURN_ROUND_HOURS = env.whole("YARD_TURN_ROUND_HOURS", 4)
YARD_PENCIL_HOURS = env.whole("YARD_PENCIL_HOURS", 24)
YARD_QUOTE_DAYS = env.whole("YARD_QUOTE_DAYS", 14)
# Working days ahead: a site has its pack of papers; a booking has its cart.
YARD_SITE_PACK_DAYS = env.whole("YARD_SITE_PACK_DAYS", 5)
YARD_BOOKING_LEAD_DAYS = env.whole("YARD_BOOKING_LEAD_DAYS", 5)
# A hire already promised a cart may be proposed another one until so many hours before it leaves.
YARD_MOVE_LEAD_HOURS = env.whole("YARD_MOVE_LEAD_HOURS", 24)
# A cart that is called off is in the yard again so many working days later, where nobody says otherwise.
YARD_PICK_UP_DAYS = env.whole("YARD_PICK_UP_DAYS", 2)
# What was found on a cart that is back is decided within so many working days.
YARD_DECIDE_DAYS = env.whole("YARD_DECIDE_DAYS", 2)
# Of an order number's value so much in a hundred charged: it runs low.
YARD_ORDER_LOW_PCT = env.whole("YARD_ORDER_LOW_PCT", 80)
# Tax on charges, in hundredths: 10 in Australia; an accountant says what is taxed.
YARD_TAX_PCT = env.whole("YARD_TAX_PCT", 10)
# The state, province or nation whose public holidays the yard keeps, as the calendar library writes it; the country is that of the
# rule set. Blank in the US: the federal days alone.
YARD_HOLIDAY_REGION = env.values.get("YARD_HOLIDAY_REGION", "").strip() or {"au": "SA", "uk": "ENG"}.get(
    YARD_RULE_SET, ""
)
# The local time by which the next day's run sheet has its drivers, starts and contacts.
YARD_RUN_SHEET_AT = env.clock("YARD_RUN_SHEET_AT", "15:00")
# An off-hire call before this local hour stops the charge at the call, a later one at this hour of the next day.
YARD_OFF_HIRE_CUT_OFF_HOUR = env.whole("YARD_OFF_HIRE_CUT_OFF_HOUR", 14)
# One long shift with its ends: who signed in at its start changes over by PIN until it is over.
YARD_TABLET_SIGN_IN_HOURS = env.whole("YARD_TABLET_SIGN_IN_HOURS", 14)
# The yard's own change-out depth, in tenths of a millimetre so that the environment carries whole numbers.
YARD_TREAD_STEER_TENTHS_MM = env.whole("YARD_TREAD_STEER_TENTHS_MM", 40)
YARD_TREAD_OTHER_TENTHS_MM = env.whole("YARD_TREAD_OTHER_TENTHS_MM", 30)
# So far off its flow when new a spray head is cleaned or changed: 10 % by SP-06 of docs/spraying.md.
YARD_HEAD_TOLERANCE_PCT = env.whole("YARD_HEAD_TOLERANCE_PCT", 10)
# "no": a drinking-water tank is dedicated to it. "yes": after bore or dam it is potable again once sanitised and tested, where
# local health rules allow that.
YARD_POTABLE_AFTER_BORE = env.choice("YARD_POTABLE_AFTER_BORE", ("no", "yes"), "no")
# Then kept between a hire of any water and one of drinking water on the same cart: to sanitise its tank and have the test back.
YARD_SANITISE_HOURS = env.whole("YARD_SANITISE_HOURS", 72)
# So many days a loaded tank of drinking water stands before somebody is told. Common practice, no source.
YARD_WATER_STANDS_DAYS = env.whole("YARD_WATER_STANDS_DAYS", 3)
# What a cart at work weighs over its published tare, beside full fuel; the margin is added to weighed carts too. A road fill
# is reckoned from these (docs/road-fill.md).
YARD_CREW = env.whole("YARD_CREW", 1)
YARD_KIT_KG = env.whole("YARD_KIT_KG", 150)
YARD_MUD_KG = env.whole("YARD_MUD_KG", 100)
YARD_WEIGHT_MARGIN_KG = env.whole("YARD_WEIGHT_MARGIN_KG", 100)

# When alerts may disturb. Working days and quiet hours hold `today`; `soon` comes once, at the digest's time; `stop` never waits.
YARD_QUIET_FROM = env.clock("YARD_QUIET_FROM", "18:00")
YARD_QUIET_UNTIL = env.clock("YARD_QUIET_UNTIL", "06:00")
YARD_DIGEST_AT = env.clock("YARD_DIGEST_AT", "06:30")
YARD_WORKING_DAYS = env.items("YARD_WORKING_DAYS", "mon,tue,wed,thu,fri,sat")
# How long nobody takes a stop before the next person is told, and before the fleet manager is.
YARD_STOP_NEXT_MINUTES = env.whole("YARD_STOP_NEXT_MINUTES", 15)
YARD_STOP_MANAGER_MINUTES = env.whole("YARD_STOP_MANAGER_MINUTES", 45)

# The start refuses to work with one of these missing: readiness without it would say yes too easily.
READINESS_PROVIDERS = ("fleet", "inspections", "servicing", "hire")
