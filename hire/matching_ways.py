"""The matching as choices that shut each other out, and equal answers settled in the order of keys."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import combinations, pairwise

import numpy as np
import numpy.typing as npt

from hire.matching_input import Asked, Cart, Key
from hire.matching_solver import choose

Pair = tuple[Key, Key]

# Two weights nearer than this share of the largest are the same weight.
ALIKE = 1e-9


def best_ways(
    asked: Asked, weights: Mapping[Pair, float], *, patience_s: float
) -> tuple[dict[Key, Key], bool]:
    """Request to cart, as many as can be and then of least weight, and whether that is proved; those promised a cart have one in
    every answer. weights: of the pairs that suit and are free."""
    pairs = sorted(weights)
    place = {one.key: n for n, one in enumerate(asked.requests)}
    kept = set(asked.kept.items())
    owners = np.array([place[request] for request, _ in pairs], dtype=np.int64)
    taken, is_best = choose(
        np.array([weights[pair] for pair in pairs], dtype=np.float64),
        owners,
        list(_shutting_out(asked, pairs)),
        patience_s=patience_s,
        kept=np.array([n for n, pair in enumerate(pairs) if pair in kept], dtype=np.int64),
    )
    return Settling(dict(pairs[n] for n in taken), asked, weights).settled(), is_best


def _shutting_out(asked: Asked, pairs: list[Pair]) -> Iterator[npt.NDArray[np.int64]]:
    """For each cart the choices that are all under way at one moment, and each for drinking water with those that would spoil the
    tank for it."""
    of_cart: dict[Key, list[int]] = {cart.key: [] for cart in asked.carts}
    for n, (_, cart) in enumerate(pairs):
        of_cart[cart].append(n)
    for cart in asked.carts:
        choices = sorted(of_cart[cart.key], key=lambda n: asked.spans[pairs[n][0]])
        yield from (group for group in _at_once(choices, asked, pairs, cart) if len(group) > 1)
        for n in choices:
            if pairs[n][0] in asked.potable:
                spoilers = [
                    other
                    for other in choices
                    if pairs[other][0] not in asked.potable
                    and cart.spoils(asked.spans[pairs[other][0]], asked.spans[pairs[n][0]])
                ]
                yield from (np.append(group, n) for group in _at_once(spoilers, asked, pairs, cart))


def _at_once(
    choices: list[int], asked: Asked, pairs: list[Pair], cart: Cart
) -> Iterator[npt.NDArray[np.int64]]:
    """Of choices of one cart, by when they begin, those under way at one moment, where no later moment has the same and more.

    Spans that overlap two by two have a moment in common, so one such moment at most starts says all of them.
    """
    spans = np.array([asked.spans[pairs[n][0]] for n in choices], dtype=np.int64).reshape(-1, 2)
    starts, ends = spans[:, 0], spans[:, 1] + cart.apart
    under_way = np.tril(ends[None, :] > starts[:, None])
    none_after = np.zeros((1, len(choices)), dtype=bool)
    for row, after in pairwise(np.concatenate([under_way, none_after])):
        if (row & ~after).any():
            yield np.array(choices, dtype=np.int64)[row]


class Settling:
    """An answer being settled: an earlier key gets the cart it has now, or else the earlier cart, where a change of one
    booking or an exchange between two leaves the answer as good as it was."""

    def __init__(self, chosen: Mapping[Key, Key], asked: Asked, weights: Mapping[Pair, float]) -> None:
        self.asked, self.weights = asked, weights
        self.carts = {cart.key: cart for cart in asked.carts}
        self.at: dict[Key, Key | None] = {
            one.key: chosen.get(one.key) for one in asked.requests if one.fixed_cart is None
        }
        self.tenants: dict[Key, set[Key]] = {cart.key: set() for cart in asked.carts}
        for request, cart in chosen.items():
            self.tenants[cart].add(request)
        order = {cart.key: n for n, cart in enumerate(asked.carts, 1)}
        self.ranks = {
            one.key: {**order, None: len(order) + 1}
            | ({} if one.present_cart is None else {one.present_cart: 0})
            for one in asked.requests
        }
        self.alike = ALIKE * max((abs(one) for one in weights.values()), default=0.0)

    def settled(self) -> dict[Key, Key]:
        # Each step puts an earlier key on a better-ranked cart, so there is an end to them.
        while self._one_changes() or self._two_exchange():
            pass
        return {request: cart for request, cart in self.at.items() if cart is not None}

    def _weight(self, request: Key, cart: Key | None) -> float:
        return 0.0 if cart is None else self.weights.get((request, cart), math.inf)

    def _fits(self, request: Key, cart: Key | None, without: Key | None = None) -> bool:
        return cart is None or not any(
            self.asked.shut_out(request, one, self.carts[cart])
            for one in self.tenants[cart]
            if one not in {request, without}
        )

    def _put(self, request: Key, cart: Key | None) -> None:
        for key, act in ((self.at[request], set.discard), (cart, set.add)):
            if key is not None:
                act(self.tenants[key], request)
        self.at[request] = cart

    def _one_changes(self) -> bool:
        changed = False
        for request, now in self.at.items():
            ranks = self.ranks[request]
            most = math.inf if now is None else self._weight(request, now) + self.alike
            better = [
                cart
                for cart in self.tenants
                if ranks[cart] < ranks[now] and self._weight(request, cart) <= most < math.inf
            ]
            for cart in sorted(better, key=ranks.__getitem__):
                if self._fits(request, cart):
                    self._put(request, cart)
                    changed = True
                    break
        return changed

    def _two_exchange(self) -> bool:
        changed = False
        for one, other in combinations(self.at, 2):
            here, there = self.at[one], self.at[other]
            if there is None or self.ranks[one][there] >= self.ranks[one][here]:
                continue
            if here is None and other in self.asked.kept:
                continue
            before = self._weight(one, here) + self._weight(other, there)
            after = self._weight(one, there) + self._weight(other, here)
            if (
                after <= before + self.alike
                and self._fits(one, there, other)
                and self._fits(other, here, one)
            ):
                self._put(other, None)
                self._put(one, there)
                self._put(other, here)
                changed = True
        return changed
