"""When a cart that is called off is in the yard again, unless somebody says otherwise."""

from __future__ import annotations

from datetime import datetime, time

from hire.working_days import days_after
from people.yard import yard_day, yard_policy

# Common practice, no source.
WORK_ENDS_AT = time(17)


def fetched_by(called_at: datetime) -> datetime:
    """The end of work, by the yard's clock, on the last of the working days within which the yard fetches a cart that was called
    off at an instant; never before the call. How many days: the yard's own setting; common practice, no source."""
    policy = yard_policy()
    last = days_after(
        yard_day(called_at), policy.pick_up_days, working=policy.working_days, closed=policy.closed_days
    )
    return max(datetime.combine(last, WORK_ENDS_AT, policy.zone), called_at)
