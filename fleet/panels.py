"""What upper apps show on a cart's page: each tells its panel at start-up, and the page asks them in order."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from django.db import connection, transaction

from fleet.models.carts import Cart

log = logging.getLogger("slake.panels")


class Render(Protocol):
    def __call__(self, cart: Cart, at: datetime) -> Mapping[str, object] | None:
        """What the panel's template is shown, in a constant number of queries; None: nothing to show for this cart."""
        ...


@dataclass(frozen=True)
class Panel:
    """A registered panel. The template is included in the cart page and sees `cart`, `at`, `person` and `panel`, which is
    what `render` gave; it opens with its own heading. `order`: smaller stands higher."""

    name: str
    order: int
    render: Render
    template: str


@dataclass(frozen=True)
class Shown:
    """A panel as the page draws it; `panel` None: its records did not answer."""

    name: str
    template: str
    panel: Mapping[str, object] | None


_panels: dict[str, Panel] = {}


def register_panel(name: str, order: int, render: Render, template: str) -> None:
    """Tell the cart page of a panel. ValueError when the name has another already."""
    panel = Panel(name, order, render, template)
    if _panels.get(name, panel) != panel:
        raise ValueError(f"The cart page already has a panel named {name!r}.")
    _panels[name] = panel


def _ask(panel: Panel, cart: Cart, at: datetime) -> Shown | None:
    try:
        if connection.in_atomic_block:
            with transaction.atomic():
                found = panel.render(cart, at)
        else:
            found = panel.render(cart, at)
    except Exception:
        # One app's trouble must not take the page that says whether the cart may go.
        log.exception("panels.failed", extra={"facts": {"panel": panel.name}})
        return Shown(panel.name, panel.template, None)
    return None if found is None else Shown(panel.name, panel.template, found)


def panels_of(cart: Cart, *, at: datetime) -> list[Shown]:
    """The panels that have something to show for a cart, in order."""
    ordered = sorted(_panels.values(), key=lambda panel: (panel.order, panel.name))
    return [shown for panel in ordered if (shown := _ask(panel, cart, at)) is not None]
