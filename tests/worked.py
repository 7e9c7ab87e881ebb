"""The worked tables of a page in docs/, for the tests that hold the rule to them."""

from pathlib import Path

DOCS = Path(__file__).parents[1] / "docs"


def tables(page: str, heading: str) -> list[list[list[str]]]:
    """Each table under a heading, as rows of cells without its head."""
    section = (DOCS / page).read_text(encoding="utf-8").split(f"\n## {heading}\n")[1].split("\n## ")[0]
    found, rows = [], []
    for line in [*section.splitlines(), ""]:
        if line.startswith("|"):
            rows.append([cell.strip() for cell in line.strip("|").split("|")])
        elif rows:
            found.append(rows[2:])
            rows = []
    return found
