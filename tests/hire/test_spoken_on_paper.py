"""A pass by phone, on a condition and with a second name, as certificate and receipt print it; and papers from before there were
any, which keep their hash."""

import pytest

from fleet.actions.spoken_passes import confirm_pass
from fleet.passing import NO_SECOND_LOOK
from hire.actions.gate import hand_over, valid_certificate
from inspections.certificates import parts
from inspections.certificates.actions import paper_of
from inspections.certificates.frozen import from_plain, to_plain
from inspections.certificates.models import Certificate
from inspections.certificates.present import present
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.factories.hire import given as handed
from tests.factories.hire import ready_line
from tests.fleet.passing import HOUR, MINUTE, enter, late_defect

pytestmark = pytest.mark.django_db


def printed(paper):
    [block] = present(paper, photo_urls={one.print_sha256: "x" for one in paper.photos}, lap_svg="<svg/>")[
        "passes"
    ]
    return dict(block.pairs)


@pytest.fixture
def bruna(people):
    manager = people[Role.WORKSHOP_MANAGER]
    manager.full_name = "Bruna Kitto"
    manager.save()
    return manager


def spoken_line(bruna, hand, at, **changes):
    """A cart ready to leave at `at`, let go by phone five hours before."""
    cart = CartFactory(tyres=True)
    given = enter(late_defect(at, cart=cart), bruna, hand, at - 5 * HOUR, **changes)
    return given, ready_line(hand=hand, at=at, cart=cart)


def test_it_is_printed_with_both_names_both_times_and_its_condition(bruna, hand, desk, people, at):
    second = {"reason": NO_SECOND_LOOK, "second_person": people[Role.FITTER]}
    given, line = spoken_line(bruna, hand, at, **second)
    said = printed(paper_of(valid_certificate(line)))
    words = said["Passed by phone by"]
    assert words.startswith("Bruna Kitto, Workshop manager, at ")
    assert "02:20" in words
    assert f"entered by {hand.full_name} at " in words
    assert "02:30" in words
    assert words.endswith("; not yet confirmed")
    assert said["On condition"] == "By day only"
    assert said["Second name"] == f"{people[Role.FITTER].full_name}, Fitter"
    assert "Passed by" not in said

    confirm_pass(given=given, by=bruna, at=at - 5 * MINUTE)
    hand_over(line=line, given=handed(limits_accepted=True), by=desk, at=at)
    receipt = printed(paper_of(Certificate.objects.get(kind="receipt")))
    assert "; confirmed " in receipt["Passed by phone by"]
    assert "07:25" in receipt["Passed by phone by"]


def test_an_outsider_is_printed_with_their_firm(bruna, hand, at):
    _, line = spoken_line(bruna, hand, at, second_name="Ida Brandt", second_firm="Saltbush Tyres")
    assert printed(paper_of(valid_certificate(line)))["Second name"] == "Ida Brandt, Saltbush Tyres"


def test_a_pass_from_before_reads_as_it_was_and_is_written_so():
    old = {
        "rule": "Late", "found": "Late", "reason": "Part", "by": "Bruna Kitto", "role": "Workshop manager",
        "given_at": "2026-11-30T07:30:00+10:30", "ends_at": None, "ends_when": "back", "second_name": "", "second_role": "",
        "condition": "", "done_instead": "Mirror", "told": "Driver",
    }  # fmt: skip
    read = from_plain(parts.Pass, old)
    assert read.spoken_at is None
    assert to_plain(read) == old
