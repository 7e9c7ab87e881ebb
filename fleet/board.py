"""One row a cart: who it is, where it is, when it is next wanted, and whether it may go."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from fleet.models.carts import Cart
from fleet.needs import Need, next_need
from fleet.readiness import Readiness, Window, readiness_each
from fleet.sentences import moment_words, readiness_sentence
from people.templatetags.screen import VERDICT_WORDS

# With no hire to judge it for, a cart is judged for a week from now: long enough to show what falls due next.
LOOK_AHEAD = timedelta(days=7)
FAR = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class BoardRow:
    cart: Cart
    need: Need | None
    answer: Readiness
    sentence: str
    wanted_words: str

    def is_wanted_before(self, moment: datetime) -> bool:
        return self.need is not None and (self.need.is_out or self.need.window.start < moment)


def window_for(need: Need | None, *, at: datetime) -> Window:
    """The window a cart is judged for: its next hire's; with none, a week from now; while it is out, from now on."""
    # Nobody stands at the gate for a cart that is not promised: it is not held for want of a walk nobody needs yet.
    unwanted = Window(start=at, end=at + LOOK_AHEAD, asks_gate=False)
    if need is None:
        return unwanted
    if need.is_out:
        return replace(need.window, start=at, end=max(need.window.end, at + LOOK_AHEAD), asks_gate=False)
    return need.window if need.window.end > at else unwanted


def answers_for(carts: Sequence[Cart], *, at: datetime) -> dict[Cart, tuple[Need | None, Readiness]]:
    """Each cart's next need and its readiness for it, in a constant number of queries."""
    needs = next_need(carts, at=at)
    windows = {cart.pk: window_for(needs.get(cart.pk), at=at) for cart in carts}
    answers = readiness_each(carts, windows=windows, at=at)
    return {cart: (needs.get(cart.pk), answers[cart.pk]) for cart in carts}


def _wanted_words(need: Need | None, *, at: datetime) -> str:
    if need is None:
        return "Not promised"
    if need.is_out:
        return f"Out, {need.label}; expected back {moment_words(need.window.end, at=at)}"
    leaves = "Leaves" if need.window.start >= at else "Was to leave"
    return f"{leaves} {moment_words(need.window.start, at=at)}, {need.label}"


BOARD_HEAD = (
    "Cart", "Plate", "Make", "Model", "Build year", "Tank L", "Where", "Where in words", "Next wanted", "Right to go", "Why",
)  # fmt: skip


def board_table(rows: Iterable[BoardRow]) -> Iterator[Sequence[object]]:
    """The rows of a list under BOARD_HEAD, for a file."""
    for row in rows:
        cart = row.cart
        yield (
            cart.fleet_number, cart.plate, cart.make, cart.model, cart.build_year, cart.tank_capacity_l,
            cart.get_where_kind_display(), cart.where_words, row.wanted_words, VERDICT_WORDS[row.answer.state], row.sentence,
        )  # fmt: skip


def board_rows(carts: Sequence[Cart], *, at: datetime) -> list[BoardRow]:
    """Rows for a list, leaving first; carts nobody has asked for last, by fleet number."""
    rows = [
        BoardRow(cart, need, answer, readiness_sentence(answer), _wanted_words(need, at=at))
        for cart, (need, answer) in answers_for(carts, at=at).items()
    ]
    return sorted(rows, key=lambda row: (row.need.window.start if row.need else FAR, row.cart.fleet_number))
