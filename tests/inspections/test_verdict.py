"""What a walk-round comes to from its findings alone."""

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.verdict import Finding, Verdict, verdict


def found(grade: str = "", *, check: str = "seat-belt", undone: bool = False, **more: str) -> Finding:
    usual = {"title": "Seat belt", "place": "", "where": "Cab", "said": ""}
    return Finding(check=check, grade=grade, undone=undone, **(usual | more))


@pytest.mark.parametrize(
    ("findings", "outcome"),
    [
        pytest.param([], "ready", id="nothing at all"),
        pytest.param([found(), found()], "ready", id="all good"),
        pytest.param([found("watch")], "ready", id="one to watch"),
        pytest.param([found("watch")] * 40, "ready", id="many to watch"),
        pytest.param([found("by_date")], "conditions", id="one with a date"),
        pytest.param([found("by_date"), found("watch"), found()], "conditions", id="a date and a watch"),
        pytest.param([found("do_not_use")], "held", id="one not to use"),
        pytest.param(
            [found(), found("by_date"), found("do_not_use")], "held", id="one not to use among others"
        ),
        pytest.param([found(undone=True)], "held", id="a required look not taken"),
        pytest.param([found("by_date"), found(undone=True)], "held", id="a date, and a look not taken"),
    ],
)
def test_outcome(findings: list[Finding], outcome: str) -> None:
    assert verdict(findings).outcome == outcome


@pytest.mark.parametrize("order", list(permutations(("watch", "by_date", "do_not_use", "undone"))))
def test_reasons_stand_worst_first_in_whatever_order_they_were_found(order: tuple[str, ...]) -> None:
    findings = [found(undone=True) if kind == "undone" else found(kind) for kind in order]
    assert [reason.grade for reason in verdict(findings).reasons] == [
        "do_not_use",
        "not_done",
        "by_date",
        "watch",
    ]


def test_reasons_of_one_grade_keep_the_order_walked() -> None:
    findings = [
        found("by_date", check="b"),
        found("by_date", check="a"),
        found("watch", check="w"),
        found("by_date", check="c"),
    ]
    assert [reason.check for reason in verdict(findings).reasons] == ["b", "a", "c", "w"]


def test_what_is_good_is_no_reason() -> None:
    assert verdict([found(), found(check="horn")]) == Verdict("ready", ())


@pytest.mark.parametrize(
    ("finding", "sentence"),
    [
        (
            found(
                "do_not_use",
                title="Tread depth",
                where="axle 2 right, outer",
                said="2.4 mm, limit 3.0 mm or more",
            ),
            "Tread depth (axle 2 right, outer): 2.4 mm, limit 3.0 mm or more; do not use.",
        ),
        (
            found("by_date", title="Cannon", where="Tank top", said="Won’t turn off."),
            "Cannon (Tank top): Won’t turn off; repair by a date.",
        ),
        (found("watch", where=""), "Seat belt; watch."),
        (
            found(undone=True, title="Rollover frame", where="Tank top", said="too dark to see"),
            "Rollover frame (Tank top): too dark to see; not checked, and it has to be.",
        ),
    ],
)
def test_a_reason_is_a_sentence_a_person_can_act_on(finding: Finding, sentence: str) -> None:
    (reason,) = verdict([finding]).reasons
    assert reason.sentence == sentence
    assert (reason.check, reason.place) == (finding.check, finding.place)


def test_a_look_not_taken_counts_as_that_and_not_as_its_grade() -> None:
    (reason,) = verdict([found("watch", undone=True)]).reasons
    assert reason.grade == "not_done"


def test_the_place_of_a_reason_is_kept_for_the_drawing() -> None:
    (reason,) = verdict([found("do_not_use", check="tread-left-rear-wheels", place="2LO")]).reasons
    assert (reason.check, reason.place) == ("tread-left-rear-wheels", "2LO")


def test_an_unknown_grade_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^“bad” is not a grade: use one of do_not_use, by_date, watch\.$"):
        verdict([found("bad")])


findings = st.builds(found, st.sampled_from(["", "watch", "by_date", "do_not_use"]), undone=st.booleans())


@given(st.lists(findings, max_size=12), findings)
def test_one_more_finding_never_makes_a_cart_fitter(before: list[Finding], more: Finding) -> None:
    order = ("ready", "conditions", "held")
    assert order.index(verdict([*before, more]).outcome) >= order.index(verdict(before).outcome)


@given(st.lists(findings, max_size=12))
def test_every_finding_that_counts_has_one_reason(walked: list[Finding]) -> None:
    assert len(verdict(walked).reasons) == sum(bool(one.grade) or one.undone for one in walked)
