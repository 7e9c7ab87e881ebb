"""The script of the last three weeks: hires that went out and came back, what was found wrong, and what was done about it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import partial

from config.demo.money import FIVE_DAYS, SATURDAY, agree
from config.demo.on_site import FOUND_ON_SITE, SITE_CODES, open_on_site
from config.demo.stand_downs import stand_downs
from config.demo.story import Script, World, promise
from config.demo.walking import Fault
from config.demo.wet import go_wet
from fleet.actions.holds import place_hold
from fleet.actions.limits import set_limit
from fleet.actions.photos import keep_photo
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from hire.actions import gate
from hire.actions.agreements import add_line
from hire.actions.gate_given import SIDES, Given
from hire.actions.off_hire import PickUp
from hire.actions.swap import swap_cart
from inspections.models import WalkRound
from people.yard import yard_day
from servicing.actions import grading, repairs

FEW_HOURS = timedelta(hours=2)

# Cart, customer, first day, days, by road. All went out and came back.
PAST = (("WC-02", 0, -19, 5, True), ("WC-04", 1, -18, 6, True), ("WC-06", 3, -16, 4, True), ("WC-12", 2, -15, 7, False),
        ("WC-19", 4, -13, 5, True), ("WC-23", 5, -12, 6, False))  # fmt: skip
# Out now; the last number is the day it is expected back.
OUT = (("WC-01", 0, -6, 6, True), ("WC-05", 2, -4, 20, False), ("WC-07", 1, -3, 6, True), ("WC-09", 4, -8, -1, True),
       ("WC-15", 3, -5, 7, True), ("WC-17", 5, -2, 14, False))  # fmt: skip
LATE_PRE_START = "WC-07"
# Promised ahead, and the second cart that goes with it on one agreement.
WITH_ANOTHER, ANOTHER = "WC-18", "WC-06"
# Photographed from each side as they left; the first came back dented.
FROM_EACH_SIDE = ("WC-06", "WC-09")
# Broke on a past hire, on which day, and what took its place for the days that were left.
BROKE, BROKE_ON, TOOK_ITS_PLACE = "WC-23", -9, "WC-04"
# Back some hours before anybody wrote it down.
ENTERED_LATER = "WC-19"
# How dirty the others came back.
DIRT = {"WC-04": "clay", "WC-19": "caked"}
# Its last pre-start was walked so quickly that a manager may well ask.
IN_A_HURRY = "WC-20"

RETURNED = (
    Fault(
        "general", "watch", "Mud to the axles, some weed under the guards", check="as-it-came-back-left-side"
    ),
    Fault("wheels", "by_date", "Cut in the sidewall, no cord showing"),
    Fault("general", "by_date", "Side board bent in at the rear", check="as-it-came-back-rear"),
)
# Scraped before it left, and wrong at the same check as it came back: the desk has to say whether that is new.
SCRAPED = "WC-12"
SCRAPE = Fault("general", "watch", "Left guard scraped at its front end", check="as-it-came-back-left-side")
SCRAPED_AGAIN = Fault("general", "watch", "Left guard scraped along its length", check=SCRAPE.check)
SMALL = (
    Fault("lights", "watch", "Lens chipped, still bright"),
    Fault("body", "by_date", "Mud flap torn at the bolt"),
    Fault("plumbing", "by_date", "Weeping at the grooved coupling"),
    Fault("spraying", "watch", "Dribbles a little when shut"),
    Fault("cab", "watch", "Wiper streaks", has_photo=False),
    Fault("engine", "by_date", "Belt frayed at one edge"),
)
ROUND = (
    Fault("engine", "by_date", "Belt frayed at one edge"),
    Fault("tank", "watch", "Rust streak under a hold-down bracket"),
    Fault("filling", "by_date", "Cap tether chain gone"),
    Fault("spraying", "watch", "Dribbles a little when shut", has_photo=False),
    Fault("cab", "watch", "Seal perished along the bottom", has_photo=False),
)
WASHED = (
    Fault("body", "by_date", "Mud flap torn at the bolt"),
    Fault("brakes", "by_date", "Hose chafed on a bracket, outer layer only"),
    Fault("plumbing", "by_date", "Weeping at the grooved coupling"),
)
GRAVE = (
    Fault("brakes", "do_not_use", "Air going down fast, hissing at the left rear"),
    Fault("wheels", "do_not_use", "Nut pointer a quarter turn out, rust streak"),
    Fault("steering", "do_not_use", "Drag link end has play"),
    Fault("stops", "do_not_use", "Pressed, engine kept running"),
)


def hires(world: World, script: Script) -> None:
    for n, (cart, customer, first, days, by_road) in enumerate(PAST):
        _out(world, script, cart, customer, first, first + days, by_road=by_road, seed=n)
        if cart == BROKE:
            _swapped(world, script, first + days)
        fault = SCRAPED_AGAIN if cart == SCRAPED else RETURNED[n % 3]
        _home(world, script, cart, BROKE_ON if cart == BROKE else first + days, fault=fault)
    script.at(
        world.when(-17, 15, 50), lambda at: _walk(world, SCRAPED, "as_returned", "wes", at, faults=(SCRAPE,))
    )
    for n, (cart, customer, first, last, by_road) in enumerate(OUT):
        _out(world, script, cart, customer, first, last, by_road=by_road, seed=n + 10)
    _leaving(world, script)
    stand_downs(world, script)


def _out(
    world: World, script: Script, cart: str, customer: int, first: int, last: int, *, by_road: bool, seed: int
) -> None:
    """Promised, walked, certified, gated and handed over, then walked on each day of the hire."""
    start, end = world.when(first, 6), world.when(last, 16)
    script.at(
        world.when(first - 2, 10),
        lambda at: _promise(world, cart, customer, start, end, by_road=by_road, at=at),
    )
    script.at(world.when(first - 1, 14), lambda at: _walk(world, cart, "pre_hire", "wes", at))
    script.at(world.when(first - 1, 15), lambda at: _certify(world, cart, at))
    script.at(world.when(first, 5, 20), lambda at: _walk(world, cart, "gate_out", "ruby", at))
    script.at(world.when(first, 6), lambda at: _hand_over(world, cart, at, nobody=seed % 4 == 3))
    if cart in SITE_CODES:
        script.at(world.when(first, 6, 30), partial(open_on_site, world, cart))
    for day in range(first + 1, min(last, 1)):
        if cart == BROKE:
            # Their pre-starts are in a book of their own; one page of it came (config.demo.sites).
            break
        if (cart == LATE_PRE_START and day >= -1) or (cart == "WC-15" and day == -1):
            continue
        if cart == FIVE_DAYS and (world.today + timedelta(days=day)).weekday() >= SATURDAY:
            continue
        script.at(world.when(day, 6, 10 + seed), partial(_pre_start, world, cart, day))


def _swapped(world: World, script: Script, last: int) -> None:
    """Swapped on site in the morning; the other works on until the hire is over."""
    cart = TOOK_ITS_PLACE
    script.at(world.when(BROKE_ON, 9), partial(_swap, world))
    script.at(world.when(BROKE_ON, 10), partial(_walk, world, cart, "pre_hire", "wes"))
    script.at(world.when(BROKE_ON, 11), partial(_certify, world, cart))
    script.at(world.when(BROKE_ON, 11, 30), partial(_walk, world, cart, "gate_out", "ruby"))
    script.at(world.when(BROKE_ON, 12), partial(_hand_over, world, cart, nobody=False))
    _home(world, script, cart, last, fault=RETURNED[0])


def _swap(world: World, at: datetime) -> None:
    line = world.lines[BROKE]
    world.lines[TOOK_ITS_PLACE] = swap_cart(
        line=line, cart=world.carts[TOOK_ITS_PLACE], swapped_at=at, called_by_words=f"{line.agreement.customer.contact_name}, by phone",
        why="Pump coupling sheared", pick_up=PickUp("At the site’s gate", "In the cab", "Ours from the swap"),
        by=world.people["dot"], at=at,
    )  # fmt: skip


def _promise(
    world: World, cart: str, customer: int, start: datetime, end: datetime, at: datetime, *, by_road: bool
) -> None:
    line = promise(world, cart, customer, start, end, by_road=by_road, at=at)
    go_wet(world, line, cart, at)
    agree(world, line, at)


def _pre_start(world: World, cart: str, day: int, at: datetime) -> WalkRound:
    """By the customer's own driver where the hire has one; else by the yard's."""
    found = FOUND_ON_SITE.get((cart, day))
    return _walk(world, cart, "daily", "ruby", at, faults=(found,) if found else (), drive=7)


def _walk(
    world: World,
    cart: str,
    purpose: str,
    who: str,
    at: datetime,
    *,
    faults: tuple[Fault, ...] = (),
    drive: int = 1,
    hasty: bool = False,
    chosen: Mapping[str, str] | None = None,
) -> WalkRound:
    row = world.carts[cart]
    world.walker.meters[row.pk].drive(drive)
    driver = world.drivers.get(cart) if purpose == "daily" else None
    by = driver or world.people[who]
    return world.walker.walk(row, purpose, by=by, at=at, faults=faults, hasty=hasty, chosen=chosen)


def _certify(world: World, cart: str, at: datetime) -> None:
    gate.issue_certificate(line=world.lines[cart], by=world.people["dot"], at=at)


def _picture(world: World, at: datetime) -> Photo:
    return keep_photo(raw=world.walker.picture(), expected_sha256=None, by=world.people["dot"], at=at)


def _hand_over(world: World, cart: str, at: datetime, *, nobody: bool) -> None:
    line, dot = world.lines[cart], world.people["dot"]
    photos: tuple[Photo, ...] = ()
    if nobody:
        photos = (_picture(world, at),)
    sides = SIDES if cart in FROM_EACH_SIDE else ()
    given = Given(
        mode="left" if nobody else "signed",
        place_words="Redgum Flat, front gate",
        keys_words="In the lock box on the gate"
        if nobody
        else f"With {line.agreement.customer.contact_name}",
        condition_words="Washed, tank empty, no new marks.",
        items_words="Standpipe SP-14\nHydrant key\n20 m hose",
        fuel_eighths=8,
        taken_by_name="" if nobody else line.agreement.customer.contact_name,
        signature_kind="" if nobody else "typed",
        limits_accepted=True,
        photos=photos,
        sides=tuple((side, _picture(world, at)) for side in sides),
    )
    gate.hand_over(line=line, given=given, by=dot, at=at)


def _home(world: World, script: Script, cart: str, day: int, *, fault: Fault) -> None:
    script.at(
        world.when(day, 15, 30),
        lambda at: gate.bring_back(
            line=world.lines[cart],
            where_words="Wash bay",
            keys_words="Key board, hook 4",
            happened_at=world.when(day, 13, 5) if cart == ENTERED_LATER else None,
            water="dam" if day % 2 else "bore",
            by=world.people["wes"],
            at=at,
        ),
    )
    dirt = {"how-dirty": DIRT[cart]} if cart in DIRT else None
    script.at(
        world.when(day, 15, 50),
        lambda at: _walk(world, cart, "as_returned", "wes", at, faults=(fault,), drive=8, chosen=dirt),
    )
    washed = (WASHED[day % 3],)
    script.at(
        world.when(day + 1, 9),
        lambda at: _walk(world, cart, "after_wash", "ruby", at, faults=washed, drive=0),
    )


def _leaving(world: World, script: Script) -> None:
    """Today and tomorrow: one fit, one held, one with a limit, one not walked yet, and some ahead."""
    soon = (world.now + timedelta(hours=3)).replace(minute=0, second=0, microsecond=0)
    for cart, customer, start, days in (
        ("WC-11", 0, soon, 9),
        ("WC-16", 1, soon + timedelta(hours=1), 5),
        ("WC-21", 3, world.when(1, 6), 7),
        ("WC-08", 4, world.when(1, 5, 30), 4),
        ("WC-18", 2, world.when(2, 7), 10),
        ("WC-02", 5, world.when(4, 6), 12),
        ("WC-25", 1, world.when(6, 6), 5),
        ("WC-03", 3, world.when(9, 7), 3),
    ):
        end = start + timedelta(days=days, hours=9)
        script.at(world.when(-5, 11), partial(_promise, world, cart, customer, start, end, by_road=True))
    script.at(world.when(-5, 11, 30), partial(_one_more, world))
    script.at(world.when(-1, 13), lambda at: _walk(world, "WC-11", "pre_hire", "wes", at))
    script.at(world.when(-1, 13, 30), lambda at: _certify(world, "WC-11", at))
    script.at(
        world.when(-1, 11),
        lambda at: _walk(world, "WC-16", "pre_hire", "ruby", at, faults=(GRAVE[0], SMALL[1])),
    )
    script.at(world.when(-1, 12), lambda at: _limited(world, at))
    script.at(world.when(-1, 12, 30), lambda at: _certify(world, "WC-21", at))


def _one_more(world: World, at: datetime) -> None:
    """A second cart on an agreement, for the first days of its hire."""
    first = world.lines[WITH_ANOTHER]
    start = first.promised.lower
    line = add_line(
        agreement=first.agreement, cart=world.carts[ANOTHER], starts_at=start, ends_at=start + timedelta(days=4, hours=9),
        by=world.people["dot"], at=at,
    )  # fmt: skip
    agree(world, line, at)


def _limited(world: World, at: datetime) -> None:
    """WC-21's cannon is dud; the hire doesn't need it, so it is isolated and tagged."""
    fault = Fault("spraying", "by_date", "Cannon won’t turn, gearbox seized", gear="cannon")
    walk = _walk(world, "WC-21", "pre_hire", "wes", at, faults=(fault,))
    defect = Defect.objects.get(source_id=walk.pk, gear="cannon")
    bruna = world.people["bruna"]
    defect = grading.assess_defect(
        defect=defect,
        version=defect.version,
        grade="by_date",
        due_on=yard_day(at) + timedelta(days=14),
        assigned_to=world.people["isla"],
        words="Gearbox on order.",
        by=bruna,
        at=at,
    )
    set_limit(
        defect=defect,
        how_isolated="Feed valve shut and locked, cannon pinned",
        tag_number="T-118",
        words="Goes without its cannon: isolated and tagged.",
        by=bruna,
        at=at,
    )


def yard_rounds(world: World, script: Script) -> None:
    """Weekly and monthly rounds and pre-starts of the carts in the yard, and what they found."""
    for n, cart in enumerate(("WC-03", "WC-08", "WC-10", "WC-14", "WC-18", "WC-20", "WC-22", "WC-24", "WC-25", "WC-21", "WC-16", "WC-11")):  # fmt: skip
        for week in (-20, -13, -6):
            found = (ROUND[(n + week) % 5],) if (n + week) % 2 == 0 else ()
            script.at(world.when(week, 7, 2 * n), partial(_walk, world, cart, "weekly", "wes", faults=found))
        script.at(world.when(-9, 8, 2 * n), partial(_walk, world, cart, "monthly", "ruby"))
        if n % 2:
            grave = (GRAVE[n % 4],) if n in (3, 7) else (SMALL[n % 6],)
            step = partial(_walk, world, cart, "daily", "ruby", faults=grave, hasty=cart == IN_A_HURRY)
            script.at(world.when(-3, 7, 3 * n), step)
    script.at(
        world.when(-4, 9),
        lambda at: _hold(world, "WC-14", "manual", "Waiting for the pump maker’s engineer", at),
    )
    script.at(
        world.when(-2, 16),
        lambda at: _hold(world, "WC-24", "incident", "Rolled back into the wash-bay wall; nobody hurt", at),
    )
    for day in (-17, -12, -8, -5, -2, -1):
        script.at(world.when(day, 11), lambda at: _mend(world, at))


def _hold(world: World, cart: str, kind: str, reason: str, at: datetime) -> None:
    place_hold(
        cart=world.carts[cart],
        kind=kind,
        reason=reason,
        tag_number="T-107" if kind == "manual" else "T-112",
        is_tag_hung=True,
        keys_words="In the workshop manager’s drawer",
        by=world.people["bruna"],
        at=at,
    )


def _mend(world: World, at: datetime) -> None:
    """A morning in the workshop: each open defect moves one step, some are left where they are."""
    bruna, teo, isla = world.people["bruna"], world.people["teo"], world.people["isla"]
    for n, defect in enumerate(
        Defect.objects.open().filter(limits=None).worst_first().select_related("repaired_by")[:7]
    ):
        if defect.state == "reported":
            due_on = yard_day(at) + timedelta(days=4 + n) if defect.grade == "by_date" else None
            grading.assess_defect(
                defect=defect,
                version=defect.version,
                grade=defect.grade,
                due_on=due_on,
                assigned_to=teo if n % 2 else isla,
                words="Looked at on the floor.",
                by=bruna,
                at=at,
            )
        elif defect.state == "assessed" and n % 3:
            repairs.start_repair(defect=defect, version=defect.version, by=defect.assigned_to or teo, at=at)
        elif defect.state == "in_repair":
            words = "New part fitted, set to the maker’s figure and tried."
            repairs.record_repair(
                defect=defect, version=defect.version, words=words, by=defect.assigned_to or teo, at=at
            )
        elif defect.state == "repaired" and n % 4:
            other = isla if defect.repaired_by_id == teo.pk else teo
            repairs.give_second_look(
                defect=defect, version=defect.version, words="Looked at and tried.", by=other, at=at
            )
