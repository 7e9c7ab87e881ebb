"""Which steps a person may take on a defect as it stands. The actions decide; this only says what is worth showing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fleet.gear import MAY_BE_ISOLATED
from fleet.models.defects import MOST_PUT_OFF, Defect
from people.models import Staff
from people.roles import MANAGERS, WALKERS, WORKSHOP, Role
from people.templatetags.screen import day


@dataclass(frozen=True)
class Offer:
    """A step on screen: its word in the address, its heading, its button, the states it follows from, and whose it is."""

    key: str
    heading: str
    button: str
    done: str
    states: frozenset[str]
    roles: frozenset[Role]
    is_grave: bool = False


_NEW = frozenset({"reported", "assessed"})
_WAITING = _NEW | {"put_off"}
_UNDONE = _WAITING | {"in_repair"}
_DONE = frozenset({"repaired"})

# In the order they are offered: the first that fits is the next right thing.
OFFERS: tuple[Offer, ...] = (
    Offer("second-look", "Give it the second look", "Second look given: it is sound", "has had its second look", _DONE, WALKERS),
    Offer("send-back", "Send it back to the job", "Send it back", "is back on the job", _DONE, WALKERS),
    Offer("look", "Look at it", "Set its grade", "is looked at", _UNDONE, MANAGERS),
    Offer("start", "Start on the job", "Start on it", "is on the job", _WAITING, WORKSHOP),
    Offer("repair", "Record the repair", "Record it as done", "is done and waits for a second look",
          frozenset({"assessed", "in_repair"}), WORKSHOP),
    Offer("limit", "Isolate it and go with a limit", "Isolated and tagged", "is isolated and tagged",
          _UNDONE, MANAGERS),
    Offer("put-off", "Put it off until … because …", "Put it off", "is put off", _WAITING, MANAGERS),
    Offer("same", "The same as another", "Close it as the same", "is closed: the same as another", _UNDONE, MANAGERS,
          is_grave=True),
    Offer("no-fault", "No fault found", "Close it as no fault found", "is closed: no fault found", _UNDONE, MANAGERS,
          is_grave=True),
)  # fmt: skip
BY_KEY = {offer.key: offer for offer in OFFERS}
_SHORT = {
    "look": "Look at it",
    "start": "Start on it",
    "repair": "Record the repair",
    "second-look": "Give a second look",
}
_NEXT = {
    "reported": ("look", "start"),
    "assessed": ("start", "repair"),
    "put_off": ("look", "start"),
    "in_repair": ("repair",),
    "repaired": ("second-look",),
}


def is_away(defect: Defect, *, on: date) -> bool:
    """Whether it is put off to a day after this one."""
    return defect.state == "put_off" and defect.put_off_until is not None and defect.put_off_until > on


def _fits(offer: Offer, defect: Defect, person: Staff, on: date) -> bool:
    if offer.key == "second-look":
        return defect.repaired_by_id != person.pk
    if offer.key == "start":
        # One put off is begun by whoever meets it in the queue on its day; before, a manager looks at it first.
        return (defect.grade != "by_date" or defect.due_on is not None) and not is_away(defect, on=on)
    if offer.key == "put-off":
        return defect.grade != "do_not_use" and defect.put_off_times < MOST_PUT_OFF
    if offer.key == "no-fault":
        return defect.grade != "do_not_use" and person.pk not in (defect.told_by_id, defect.repaired_by_id)
    if offer.key == "limit":
        return defect.gear in MAY_BE_ISOLATED
    return True


def offers_for(defect: Defect, person: Staff, *, on: date) -> list[Offer]:
    """Every step this person may take now, the next right thing first."""
    first = _NEXT.get(defect.state, ())
    fitting = [
        offer
        for offer in OFFERS
        if defect.state in offer.states and person.has_role(offer.roles) and _fits(offer, defect, person, on)
    ]
    return sorted(fitting, key=lambda offer: first.index(offer.key) if offer.key in first else len(first))


def next_word(defect: Defect, person: Staff, *, on: date) -> str:
    """The one button of a queue row: what this person does next, or "Open it" when it is somebody else's turn."""
    offers = offers_for(defect, person, on=on)
    return _SHORT.get(offers[0].key, "Open it") if offers else "Open it"


def waits_for(defect: Defect, *, on: date) -> str:
    """What has to happen now, and by whom; nothing for a closed defect."""
    if is_away(defect, on=on):
        return f"it is back in the queue on {day(defect.put_off_until)}"
    if defect.state == "put_off":
        return "it is back in the queue: the workshop manager looks at it, or a fitter starts on it"
    if defect.state == "reported":
        return "the workshop manager looks at it and sets its grade"
    if defect.state == "assessed":
        return (
            f"{defect.assigned_to.full_name} starts on it" if defect.assigned_to else "a fitter starts on it"
        )
    if defect.state == "in_repair":
        return f"{defect.assigned_to.full_name if defect.assigned_to else 'the fitter'} records the repair"
    if defect.state == "repaired" and defect.repaired_by:
        return f"a second look by somebody other than {defect.repaired_by.full_name}"
    return ""
