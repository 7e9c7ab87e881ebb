"""The two depths a tyre is held to in its place: the yard's rule set and policy, asked in one way."""

from __future__ import annotations

from fleet.tread_limits import TreadLimit, legal_limit, withdrawal_limit
from people.yard import yard_policy


def limits_at(*, steers: bool) -> tuple[TreadLimit, TreadLimit]:
    """(change-out depth, legal depth) on a steer axle or another."""
    policy, place = yard_policy(), "steer" if steers else "other"
    yard_mm = policy.tread_steer_mm if steers else policy.tread_other_mm
    return (
        withdrawal_limit(rule_set=policy.rule_set, position=place, yard_mm=yard_mm),
        legal_limit(rule_set=policy.rule_set, position=place),
    )
