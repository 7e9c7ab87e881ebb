"""What every page's frame needs: the yard's name, the way round for this role, how many alerts wait."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone

from fleet.alerts.actions import is_sweep_late
from fleet.alerts.models import Alert, SweepRun
from people.models import Staff
from people.roles import DESK, EVERYBODY, FLEET_ONLY, MANAGERS, PIN_HOLDERS, WALKERS, WORKSHOP, Role
from people.templatetags.screen import span_words
from people.yard import yard_day, yard_policy


@dataclass(frozen=True)
class Way:
    """One entry of the navigation: screen word, address, and whether this page lies under it."""

    label: str
    url: str
    current: bool


# Screen word, URL name, who sees it.
WAYS: tuple[tuple[str, str, frozenset[Role]], ...] = (
    ("Today", "home", EVERYBODY),
    ("Walk a cart", "inspections:capture", WALKERS),
    ("Carts", "fleet:cart_list", EVERYBODY),
    ("Workshop", "servicing:defect_list", WORKSHOP),
    ("Coming weeks", "servicing:week_list", WORKSHOP | DESK),
    ("Hire", "hire:line_list", DESK),
    ("Customers", "hire:customer_list", DESK),
    ("Figures", "hire:figures", MANAGERS | DESK),
    ("Check sheets", "inspections:sheet_list", MANAGERS),
    ("My PIN", "tablets:pin_set", PIN_HOLDERS),
    ("Tablets", "tablets:tablet_list", MANAGERS),
    ("People", "people:staff_list", FLEET_ONLY),
)


# So many of them, and the alerts, stand in one line on a small desk screen; what is wanted least often is behind "More".
IN_LINE = 6


def ways_for(person: Staff, path: str) -> list[Way]:
    found = [(label, reverse(name)) for label, name, roles in WAYS if person.has_role(roles)]
    under = max(
        (url for _, url in found if path.startswith(url) and (url != "/" or path == "/")), key=len, default=""
    )
    return [Way(label, url, url == under) for label, url in found]


def parted(ways: list[Way]) -> tuple[list[Way], list[Way]]:
    """Those in line, and those behind "More"; one alone takes no more room than the word."""
    return (ways, []) if len(ways) <= IN_LINE + 1 else (ways[:IN_LINE], ways[IN_LINE:])


def watch_words(*, at: datetime) -> str:
    """What every page of a manager says when the watch has stopped; "" while it looks round as it should."""
    last = SweepRun.objects.last_finished_at()
    if last is None or not is_sweep_late(last, at=at):
        return ""
    return f"The watch over the yard stopped {span_words(at - last)} ago: nothing that lapses is noticed until it runs again."


def screen(request: HttpRequest) -> dict[str, object]:
    frame: dict[str, object] = {"yard_name": yard_policy().name, "nav": [], "nav_more": [], "alert_count": 0}
    person = getattr(request, "user", None)
    if isinstance(person, Staff) and person.is_authenticated:
        frame["person"] = person
        frame["nav"], frame["nav_more"] = parted(ways_for(person, request.path))
        at = timezone.now()
        frame["alert_count"] = Alert.objects.for_person(person).asking(on=yard_day(at)).count()
        if person.has_role(MANAGERS):
            frame["watch_words"] = watch_words(at=at)
    return frame
