"""Money on a screen and on paper."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import template

register = template.Library()


@register.filter
def money(value: Any) -> str:
    """An amount with its cents, "1,450.00"; a credit has the sign of minus before it."""
    amount = Decimal(value)
    return f"−{-amount:,.2f}" if amount < 0 else f"{amount:,.2f}"


@register.filter
def evidence_of(key: str, links: Mapping[str, str] | None) -> str:
    """Where the evidence of a charge line stands, by its key; "" for one that has none, or where no links are given."""
    return (links or {}).get(key, "")
