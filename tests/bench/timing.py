"""How the benches time: rivals in turn, round by round, so that a busy minute of the machine falls on all alike."""

import statistics
import time
from collections.abc import Callable


def medians_ms(rounds: int, *works: Callable[[], object]) -> list[float]:
    """The median milliseconds of each work over `rounds` rounds, after a round that is thrown away."""
    times: list[list[float]] = [[] for _ in works]
    for _ in range(rounds + 1):
        for taken, work in zip(times, works, strict=True):
            began = time.perf_counter()
            work()
            taken.append((time.perf_counter() - began) * 1000)
    return [statistics.median(taken[1:]) for taken in times]
