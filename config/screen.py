"""What every page's frame needs: the yard's name, the way round for this role, how many alerts wait."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from fleet.alerts.models import Alert
from people.models import Staff
from people.roles import DESK, EVERYBODY, FLEET_ONLY, MANAGERS, PIN_HOLDERS, WALKERS, WORKSHOP, Role
from people.yard import yard_policy


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


def ways_for(person: Staff, path: str) -> list[Way]:
    found = [(label, reverse(name)) for label, name, roles in WAYS if person.has_role(roles)]
    under = max(
        (url for _, url in found if path.startswith(url) and (url != "/" or path == "/")), key=len, default=""
    )
    return [Way(label, url, url == under) for label, url in found]


def screen(request: HttpRequest) -> dict[str, object]:
    frame: dict[str, object] = {"yard_name": yard_policy().name, "nav": [], "alert_count": 0}
    person = getattr(request, "user", None)
    if isinstance(person, Staff) and person.is_authenticated:
        frame["person"] = person
        frame["nav"] = ways_for(person, request.path)
        frame["alert_count"] = Alert.objects.open().for_role(person.role).count()
    return frame
