"""A customer's person at work with a cart: a hire that is out, their phone, and the calls it makes."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any

from django.test import Client

from fleet.models.carts import Cart
from hire.actions.collecting import make_collection_link, open_gate_out
from hire.models.agreements import Line
from hire.models.links import CollectionLink
from inspections.models import SiteWalker
from inspections.site_cookie import cookie_name
from inspections.site_walkers import open_site_walker
from people.models import Staff
from tests.factories.fleet import CartFactory
from tests.factories.hire import LineFactory


def out_line(*, at: datetime, **line: Any) -> Line:
    """A hire whose cart left two days ago and is expected back in five."""
    cart = line.pop("cart", None) or CartFactory(tyres=True)
    Cart.objects.filter(pk=cart.pk).update(where_kind="site")
    began = at - timedelta(days=2)
    return LineFactory(**{"cart": cart, "starts_at": began, "out_at": began} | line)


def open_phone(line: Line, *, at: datetime, name: str = "Jo Field", **changed: Any) -> tuple[SiteWalker, str]:
    """A phone on which a hire's pre-start is open, by the real action, and its token."""
    return open_site_walker(
        **{
            "cart": line.cart,
            "subject": ("hire_line", line.pk),
            "name": name,
            "for_words": line.agreement.customer.name,
            "how": "code",
            "through": None,
            "expires_at": line.promised.upper + timedelta(days=30),
            "at": at,
        }
        | changed
    )


class Phone:
    """What a customer's phone sends: every call names its hire, the cookie says who."""

    def __init__(self, line: Line, token: str, **client: Any) -> None:
        self.client, self.line = Client(**client), line
        self.client.cookies[cookie_name(line.pk)] = token
        self.headers = {"Slake-Hire": str(line.pk)}

    def get(self, path: str) -> Any:
        return self.client.get(path, headers=self.headers)

    def put(self, body: dict[str, Any]) -> Any:
        """The signed record."""
        path = f"/sync/walk-round/{body['id']}"
        return self.client.put(path, json.dumps(body), content_type="application/json", headers=self.headers)

    def put_bytes(self, path: str, raw: bytes, **headers: str) -> Any:
        return self.client.put(
            path, raw, content_type="application/octet-stream", headers=self.headers | headers
        )


def phone_of(line: Line, *, at: datetime, **changed: Any) -> Phone:
    _, token = open_phone(line, at=at, **changed)
    return Phone(line, token)


def collection_of(line: Line, *, by: Staff, at: datetime, **changed: Any) -> tuple[CollectionLink, str]:
    """The link by which Jo Field collects a hire's cart for the customer, by the real action, and its token."""
    told = {"name": "Jo Field", "drives_for": "customer", "phone": "0400 550 118"}
    return make_collection_link(line=line, **told | changed, by=by, at=at)


def driver_of(link: CollectionLink, *, at: datetime) -> tuple[SiteWalker, Phone]:
    """The driver's phone with the gate-out check open on it, by the real action."""
    walker, token = open_gate_out(link=link, at=at)
    return walker, Phone(link.line, token)


def as_driver(walker: SiteWalker) -> dict[str, Any]:
    """The members of a record that the driver signs on their phone, for `manifest` and `sign`."""
    signature = {"kind": "typed", "name": walker.name, "statement": "I walked round it.", "strokes": []}
    return {"version": 2, "author": {"id": str(walker.pk), "name": walker.name}, "signature": signature}
