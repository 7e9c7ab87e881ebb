"""Which checks give meter readings, and reading a number as it was signed."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from inspections.check import Check
from inspections.limits import decimal_of

# Family of the check: kind of the meter. A test holds the families to the library.
METER_CHECKS: Mapping[str, str] = MappingProxyType(
    {"engine-hours": "engine_hours", "pump-hours": "pump_hours", "odometer": "km"}
)


def meter_of(check: Check) -> str:
    """The meter a check reads, or "" for none."""
    return METER_CHECKS.get(check.family, "")


def number_or_none(text: str) -> Decimal | None:
    """The number a signed value spells; None when it is none (it stays on the record as it was written)."""
    try:
        return decimal_of(text)
    except ValueError:
        return None
