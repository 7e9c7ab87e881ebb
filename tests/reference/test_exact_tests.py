"""Outside checks of the exact tests: each line carries where the figure is published and that row's status."""

from pathlib import Path

import pytest

from inspections.chance import compare
from tests.inspections.walk_samples import groups_of

PAGE = Path(__file__).parents[2] / "docs" / "truthfulness.md"

PUBLISHED = [
    # Agresti, Categorical Data Analysis (1990), p. 61: which of eight cups had its milk first, VERIFIED-S
    pytest.param("3/4 1/4", "at_least", "0.2429", "Agresti 1990, p. 61", id="tea VERIFIED-S"),
    # The same, pp. 231-237: penicillin and rabbits, exact test of 2 x 2 x 5 tables, one-sided, VERIFIED-S
    pytest.param(
        "0/6 0/5, 3/6 0/6, 6/6 2/6, 5/6 6/6, 2/2 5/5", "at_least", "0.020", "Agresti 1990, pp. 231-237",
        id="penicillin VERIFIED-S",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("groups", "tail", "published", "source"), PUBLISHED)
def test_published_figure(groups: str, tail: str, published: str, source: str) -> None:
    digits = len(published.partition(".")[2])
    assert f"{getattr(compare(groups_of(groups)), tail):.{digits}f}" == published
    assert f"| {groups} | so many or more | {published} | {source} | VERIFIED-S |" in PAGE.read_text(
        encoding="utf-8"
    )


def test_the_published_two_sided_figure_of_the_penicillin_table() -> None:
    """0.040 is the sum of every share-out no likelier than the one found; ours are the two tails, 0.020 and its like."""
    beside = compare(groups_of("0/6 0/5, 3/6 0/6, 6/6 2/6, 5/6 6/6, 2/2 5/5"))
    assert f"{2 * beside.at_least:.3f}" == "0.040"
