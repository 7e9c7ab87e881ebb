"""What a customer's person may do through their link, by what they are to the hire."""

from __future__ import annotations

from dataclasses import dataclass

SUPERVISOR, OPERATOR, ACCOUNTS = "supervisor", "operator", "accounts"
RIGHTS = [
    (SUPERVISOR, "Supervisor: everything of the hire but its charges"),
    (OPERATOR, "Operator: may it work, pre-start, breakdown, safe use"),
    (ACCOUNTS, "Accounts: dockets and charges, nothing of who drives"),
]
RIGHT_NAMES = {SUPERVISOR: "Supervisor", OPERATOR: "Operator", ACCOUNTS: "Accounts"}
ON_SITE = frozenset({SUPERVISOR, OPERATOR})
IN_CHARGE = frozenset({SUPERVISOR})
WHO_PAY = frozenset({ACCOUNTS})
ANYBODY = frozenset(RIGHT_NAMES)


@dataclass(frozen=True)
class May:
    """What a page shows and offers. works: pre-start and breakdown; runs: certificates, pack, off-hire, lapsed pre-starts; pays:
    dockets and charges."""

    works: bool
    runs: bool
    pays: bool


def may(rights: str) -> May:
    """KeyError for a word that is none of them."""
    RIGHT_NAMES[rights]
    return May(works=rights in ON_SITE, runs=rights in IN_CHARGE, pays=rights in WHO_PAY)
