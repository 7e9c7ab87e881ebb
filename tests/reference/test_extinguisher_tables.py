"""Outside checks of extinguisher intervals: each line carries its published row and that row's status."""

import re
from datetime import date
from pathlib import Path

import pytest

from servicing.extinguishers import AGENTS, INCLUSIONS, due_dates, end_of_life

PAGE = Path(__file__).parents[2] / "docs" / "extinguishers.md"
MADE_ON = date(2020, 1, 15)


def table(heading: str) -> list[list[str]]:
    """The body cells of the first table under a heading of docs/extinguishers.md."""
    section = PAGE.read_text(encoding="utf-8").split(f"## {heading}\n")[1].split("\n## ")[0]
    rows = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row] for row in rows[2:]]


def due(regime: str, agent: str, *events: tuple[str, date], made_on: date = MADE_ON) -> dict[str, date]:
    services = due_dates(regime=regime, agent=agent, made_on=made_on, events=events, on=date(2033, 1, 1))
    return {service.kind: service.on for service in services}


@pytest.mark.parametrize(
    ("agent", "years"),
    [
        pytest.param("water", 5, id="FE-04 VERIFIED-R stored-pressure water"),
        pytest.param("foam", 5, id="FE-08 VERIFIED-R AFFF"),
        pytest.param("co2", 5, id="FE-11 VERIFIED-R carbon dioxide"),
        pytest.param("dry_chemical", 12, id="FE-12 VERIFIED-R dry chemical, stored pressure, mild steel"),
        pytest.param("wet_chemical", 5, id="FE-31 VERIFIED-S wet chemical"),
    ],
)
def test_us_hydrostatic_test_interval(agent: str, years: int) -> None:
    assert due("us", agent)["hydrotest"] == MADE_ON.replace(year=MADE_ON.year + years)


@pytest.mark.parametrize(
    ("agent", "years"),
    [
        pytest.param("foam", 3, id="FE-34 VERIFIED-S AFFF"),
        pytest.param("water", 5, id="FE-35 VERIFIED-S stored-pressure water"),
        pytest.param("co2", 5, id="FE-35 VERIFIED-S carbon dioxide"),
        pytest.param("wet_chemical", 5, id="FE-35 VERIFIED-S wet chemical"),
        pytest.param("dry_chemical", 6, id="FE-22 and FE-36 VERIFIED-S stored-pressure dry chemical"),
    ],
)
def test_us_internal_examination_interval(agent: str, years: int) -> None:
    assert due("us", agent)["internal_examination"] == MADE_ON.replace(year=MADE_ON.year + years)


@pytest.mark.parametrize("agent", AGENTS)
def test_us_monthly_look_and_yearly_maintenance(agent: str) -> None:
    found = due("us", agent)
    assert found["monthly_look"] == date(2020, 2, 15)  # FE-20 VERIFIED-R, FE-30 VERIFIED-S: one month
    assert found["yearly_service"] == date(2021, 1, 15)  # FE-21 VERIFIED-R: twelve months


def test_us_dry_chemical_worked_line() -> None:
    """Made January 2020: emptied January 2026, tested January 2032, which restarts the six (COMPUTED)."""
    fresh = due("us", "dry_chemical")
    assert fresh["internal_examination"] == date(2026, 1, 15)
    assert fresh["hydrotest"] == date(2032, 1, 15)
    tested = due("us", "dry_chemical", ("hydrotest", date(2032, 1, 15)))
    assert tested["internal_examination"] == date(2038, 1, 15)
    assert tested["hydrotest"] == date(2044, 1, 15)


@pytest.mark.parametrize("agent", AGENTS)
def test_australian_services_are_alike_for_every_portable(agent: str) -> None:
    assert due("au", agent) == {
        "routine_6_month": date(2020, 7, 15),  # FE-50 VERIFIED-S: six months, tag mark 1
        "routine_12_month": date(2021, 1, 15),  # FE-50 VERIFIED-S: twelve months, tag mark 2
        "pressure_test": date(2025, 1, 15),  # FE-51 VERIFIED-S: five years, all portable types
    }


@pytest.mark.parametrize("agent", AGENTS)
def test_uk_look_and_basic_service(agent: str) -> None:
    found = due("uk", agent)
    assert found["monthly_look"] == date(2020, 2, 15)  # FE-40 VERIFIED-S: one month
    assert found["yearly_service"] == date(2021, 1, 15)  # FE-40 VERIFIED-S: twelve months


@pytest.mark.parametrize("agent", ["water", "foam", "dry_chemical"])
def test_uk_extended_service(agent: str) -> None:
    assert due("uk", agent)["extended_service"] == date(2025, 1, 15)  # FE-41 VERIFIED-S: five years
    again = due("uk", agent, ("extended_service", date(2025, 1, 10)))
    assert again["extended_service"] == date(2030, 1, 10)  # FE-41 VERIFIED-S: then every five


def test_uk_carbon_dioxide_overhaul() -> None:
    found = due("uk", "co2")
    assert found["overhaul"] == date(2030, 1, 15)  # FE-42 VERIFIED-S: ten years
    assert "extended_service" not in found


def test_uk_wet_chemical_has_only_what_a_row_gives() -> None:
    assert set(due("uk", "wet_chemical")) == {"monthly_look", "yearly_service"}


def test_the_page_prints_the_intervals_that_are_used() -> None:
    printed = {}
    for regime, agents, kind, months, row, clause, _status in table("The intervals"):
        for agent in AGENTS if agents == "every one" else (agents,):
            years, month = divmod(int(months), 12)
            due_on = date(MADE_ON.year + years, MADE_ON.month + month, MADE_ON.day)
            printed[regime, agent, kind] = (due_on, f"{row}, {clause}")
    used = {
        (regime, agent, service.kind): (service.on, service.source)
        for regime in ("au", "us", "uk")
        for agent in AGENTS
        for service in due_dates(regime=regime, agent=agent, made_on=MADE_ON, events=(), on=MADE_ON)
    }
    assert printed == used


def test_end_of_life() -> None:
    # FE-37 VERIFIED-S: twelve years from manufacture. FE-43 VERIFIED-S: twenty, as practised.
    us = end_of_life(regime="us", agent="dry_chemical", made_on=date(2020, 2, 29), is_rechargeable=False)
    assert us.on == date(2032, 2, 29)
    uk = end_of_life(regime="uk", agent="water", made_on=date(2020, 2, 29))
    assert uk.on == date(2040, 2, 29)


def test_the_page_prints_the_ends_of_life_that_are_used() -> None:
    for regime, which, months, row, clause, _status in table("End of life"):
        years = int(months) // 12
        for agent in AGENTS:
            found = end_of_life(
                regime=regime, agent=agent, made_on=MADE_ON, is_rechargeable=which == "every one"
            )
            assert (found.on, found.source) == (
                MADE_ON.replace(year=MADE_ON.year + years),
                f"{row}, {clause}",
            )


def test_the_page_prints_what_counts_as_what() -> None:
    used = [
        [regime, inclusion.kind, ", ".join(inclusion.includes), inclusion.basis]
        for regime, inclusions in INCLUSIONS.items()
        for inclusion in inclusions
    ]
    assert table("One service that counts as another") == used


@pytest.mark.parametrize("row", table("Worked table"), ids=lambda row: " ".join(row[:3]))
def test_the_worked_table_comes_out_as_printed(row: list[str]) -> None:
    regime, agent, history, expected = row
    made, *done = re.findall(r"(\w+) (\d{4}-\d\d-\d\d)", history)
    services = due_dates(
        regime=regime,
        agent=agent,
        made_on=date.fromisoformat(made[1]),
        events=[(kind, date.fromisoformat(day)) for kind, day in done],
        on=date(2026, 6, 15),
    )
    assert ", ".join(f"{service.kind} {service.on}" for service in services) == expected
