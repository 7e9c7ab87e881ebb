"""How long a wrong sign-in must wait. A pair (name, address) slows first, an address alone later; a stranger at
another address never locks a person out of theirs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from ipaddress import ip_address

from django.conf import settings
from django.db import transaction
from django.http import HttpRequest

from people.models import SignInThrottle

FREE_TRIES_OF_PAIR = 4
FREE_TRIES_OF_ADDRESS = 20
LONGEST_WAIT = timedelta(minutes=15)
FORGOTTEN_AFTER = timedelta(hours=12)


def address_of(request: HttpRequest) -> str:
    """Where a request came from. Behind the proxy every request comes from the proxy, which writes its visitor's address
    at the end of X-Forwarded-For; what stands before that was written by the visitor and is not believed."""
    peer = str(request.META["REMOTE_ADDR"])
    if not settings.BEHIND_PROXY:
        return peer
    told = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
    try:
        return str(ip_address(told))
    except ValueError:
        return peer


def wait_after(failures: int, *, free: int) -> timedelta:
    """Nothing for the first `free` failures, then 5 s doubling up to a quarter of an hour."""
    if failures <= free:
        return timedelta(0)
    return min(LONGEST_WAIT, timedelta(seconds=5 * 2 ** min(failures - free - 1, 12)))


def _keys(username: str, address: str) -> list[tuple[str, int]]:
    pair = f"{username.strip().lower()[:40]}@{address}"[:140]
    return [(pair, FREE_TRIES_OF_PAIR), (address[:140], FREE_TRIES_OF_ADDRESS)]


def seconds_to_wait(*, username: str, address: str, at: datetime) -> int:
    """Whole seconds before another try is looked at; 0 when one may be made now."""
    return longest_wait(_keys(username, address), at=at)


def longest_wait(keys: Iterable[tuple[str, int]], *, at: datetime) -> int:
    """Whole seconds until none of these keys, each with its free tries, must wait any longer."""
    rows = SignInThrottle.objects.filter(key__in=[key for key, _ in keys])
    return max((row.seconds_to_wait(at=at) for row in rows), default=0)


def note_failure(*, username: str, address: str, at: datetime) -> None:
    """Count a wrong try for the pair and for the address."""
    count(_keys(username, address), at=at)


@transaction.atomic
def count(keys: Iterable[tuple[str, int]], *, at: datetime) -> None:
    """Count one try under each key; rows are locked in key order."""
    for key, free in sorted(keys):
        row, _ = SignInThrottle.objects.select_for_update().get_or_create(
            key=key, defaults={"last_failure_at": at}
        )
        if at - row.last_failure_at > FORGOTTEN_AFTER:
            row.failures = 0
        row.failures += 1
        row.last_failure_at = at
        row.wait_until = at + wait_after(row.failures, free=free)
        row.save(update_fields=["failures", "last_failure_at", "wait_until"])


def note_success(*, username: str, address: str) -> None:
    """Forget the pair's failures; the address keeps its own, which other names may have earned."""
    pair = f"{username.strip().lower()[:40]}@{address}"[:140]
    SignInThrottle.objects.filter(key=pair).delete()


def _locked(keys: list[tuple[str, int]], *, at: datetime) -> list[tuple[SignInThrottle, int]]:
    """The counters of these keys (each with its free tries), locked in key order; what is long ago is forgotten."""
    rows = []
    for key, free in sorted((key[:140], free) for key, free in keys):
        row, _ = SignInThrottle.objects.select_for_update().get_or_create(
            key=key, defaults={"last_failure_at": at}
        )
        if at - row.last_failure_at > FORGOTTEN_AFTER:
            row.failures, row.wait_until = 0, None
        rows.append((row, free))
    return rows


def _write(row: SignInThrottle, free: int, failures: int, *, at: datetime) -> None:
    row.failures, row.last_failure_at = failures, at
    row.wait_until = at + wait_after(failures, free=free)
    row.save(update_fields=["failures", "last_failure_at", "wait_until"])


@transaction.atomic
def count_try(keys: list[tuple[str, int]], *, at: datetime) -> int:
    """Count a try under each key before it is looked at, so that many at once are counted one after the other. Whole seconds
    to wait when it may not be looked at yet, which counts nothing; else 0."""
    rows = _locked(keys, at=at)
    if wait := max(row.seconds_to_wait(at=at) for row, _ in rows):
        return wait
    for row, free in rows:
        _write(row, free, row.failures + 1, at=at)
    return 0


@transaction.atomic
def take_back_try(keys: list[tuple[str, int]], *, at: datetime) -> None:
    """The try counted last was right: the first key forgets its failures, the others this try alone, since other tries may
    have earned theirs."""
    first = keys[0][0][:140]
    for row, free in _locked(keys, at=at):
        _write(row, free, 0 if row.key == first else max(0, row.failures - 1), at=at)
