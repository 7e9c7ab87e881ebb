"""Reading one check: what is usual, and what is refused in a sentence."""

from decimal import Decimal
from typing import Any

import pytest

from inspections.check import CheckRefused
from inspections.library import checks_of
from tests.inspections.check_bodies import BODY, one

MEASURED = BODY | {"answer": "measure", "unit": "mm"}
CHOSEN = BODY | {
    "answer": "choice",
    "choices": [{"key": "full", "label": "Full"}, {"key": "empty", "label": "Empty", "grade": "watch"}],
}
LIMIT = {"op": ">=", "value": "3", "grade": "watch"}


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        (
            BODY | {"key": "Bucket"},
            "The key 'Bucket' is not small letters, digits and hyphens, as in “wheel-nuts”.",
        ),
        ({k: v for k, v in BODY.items() if k != "key"}, "The key None is not small letters"),
        (BODY | {"key": "b" * 81}, "is not small letters"),
        (BODY | {"colour": "red"}, "The check “bucket” has a field nobody reads: colour."),
        (BODY | {"station": "roof"}, "has no place here for “roof”: use one of cab, front,"),
        (BODY | {"stations": []}, "names no station, or one of them twice."),
        (BODY | {"stations": ["cab", "cab"]}, "names no station, or one of them twice."),
        (BODY | {"stations": "cab"}, "needs a list of words for “stations”."),
        (
            BODY | {"key": "b" * 75, "stations": ["right_front_wheel"]},
            "has a key of 93 letters with its station; at most 80",
        ),
        (BODY | {"title": "B" * 43}, "has a “title” of 43 letters; at most 42 can be read with a glove on."),
        (BODY | {"look_for": "x" * 141}, "has a “look_for” of 141 letters; at most 140"),
        (BODY | {"sound": " "}, "has no “sound”, or one with spaces round it."),
        (BODY | {"if_not": "Fetch one. "}, "has no “if_not”, or one with spaces round it."),
        ({k: v for k, v in BODY.items() if k != "grade"}, "has no “grade”."),
        (BODY | {"grade": "bad"}, "has the grade 'bad': use one of do_not_use, by_date, watch."),
        (BODY | {"answer": "guess"}, "has the answer 'guess': use one of sound, measure, choice, date."),
        (BODY | {"system": "toys"}, "has the system 'toys': use one of cab, engine,"),
        (BODY | {"pass": 5}, "is on pass 5: use 1 to 4."),
        (BODY | {"pass": True}, "is on pass True: use 1 to 4."),
        (BODY | {"minutes": "0"}, "takes '0' minutes: give a number above 0 and at most 15."),
        (BODY | {"minutes": "soon"}, "takes 'soon' minutes"),
        (BODY | {"minutes": 0.5}, "takes 0.5 minutes"),
        (BODY | {"minutes": 16}, "takes 16 minutes"),
        (BODY | {"asked": []}, "has no “asked”, or one word of it twice."),
        (BODY | {"asked": ["daily", "daily"]}, "has no “asked”, or one word of it twice."),
        (BODY | {"asked": ["hourly"]}, "has 'hourly' among “asked”: use daily, weekly,"),
        (BODY | {"needs": ["wings"]}, "needs “wings”, which no cart can have."),
        (BODY | {"needs": ["cannon|wings"]}, "needs “wings”, which no cart can have."),
        (BODY | {"needs": ["!wings"]}, "needs “wings”, which no cart can have."),
        (
            BODY | {"each": "wheel"},
            "has the each 'wheel': use one of tyre, hub, extinguisher, emergency_stop.",
        ),
        (BODY | {"each": "tyre"}, "is asked at each wheel from a station without wheels."),
        (BODY | {"required": "yes"}, "needs true or false for “required”."),
        (BODY | {"second_look": "never"}, "has the second_look 'never': use one of always, later."),
        (
            BODY | {"system": "brakes", "second_look": "later"},
            "has to be seen twice: brakes, steering, wheels",
        ),
        (BODY | {"basis": "my cousin"}, "rests on 'my cousin': give a row with its tag"),
        (BODY | {"basis": "TY-09"}, "rests on 'TY-09': give a row with its tag"),
        (BODY | {"basis": "TY-05 MEMORY"}, "rests on 'TY-05 MEMORY'"),
        (BODY | {"unit": "mm"}, "gives a unit and is not measured."),
        (BODY | {"answer": "measure"}, "is measured and lacks a unit for some rule set."),
        (MEASURED | {"unit": {"au": "kPa"}}, "is measured and lacks a unit for some rule set."),
        (MEASURED | {"unit": {"nz": "kPa"}}, "has a unit over 12 letters, or for none of au, us, uk."),
        (MEASURED | {"unit": "millimetres of mercury"}, "has a unit over 12 letters"),
        (MEASURED | {"unit": 7}, "needs a unit, or one for each rule set."),
        (BODY | {"limit": LIMIT}, "gives a limit and is not measured."),
        (MEASURED | {"limit": LIMIT, "limit_from": "tread"}, "takes its limit from two places."),
        (MEASURED | {"limit_from": "tread"}, "takes its limit from the tyre and is not asked at each tyre."),
        (MEASURED | {"limit": ">= 3"}, "has a limit that is no table."),
        (MEASURED | {"limit": {"nz": LIMIT}}, "has a limit for a rule set that is none of au, us, uk."),
        (MEASURED | {"limit": LIMIT | {"op": "about"}}, "The check “bucket”: “about” is not a comparison"),
        (MEASURED | {"limit": LIMIT | {"value": "3,0"}}, "The check “bucket”: “3,0” is not a number"),
        (
            MEASURED | {"limit": LIMIT | {"unit": "in"}},
            "has a limit in another unit than the value is entered in.",
        ),
        (MEASURED | {"limit": LIMIT | {"why": "so"}}, "has a limit with a part nobody reads"),
        (MEASURED | {"limit": {"au": LIMIT | {"basis": "hearsay"}}}, "rests on 'hearsay'"),
        (CHOSEN | {"choices": []}, "is a choice with fewer than two choices."),
        (CHOSEN | {"choices": [CHOSEN["choices"][1]] * 2}, "is a choice with nothing sound in it."),
        (CHOSEN | {"choices": [CHOSEN["choices"][0]] * 2}, "names one choice twice."),
        (
            CHOSEN | {"choices": [{"key": "a", "label": ""}, {"key": "b", "label": "B"}]},
            "has a choice without words",
        ),
        (CHOSEN | {"choices": [{"key": "A", "label": "A"}]}, "has a choice with the key 'A'."),
        (
            CHOSEN | {"choices": [{"key": "a", "label": "A", "grade": "bad"}]},
            "has a choice with the grade 'bad'.",
        ),
        (
            CHOSEN | {"choices": [{"key": "a", "label": "A", "hue": 1}]},
            "has a choice with a part nobody reads",
        ),
        (CHOSEN | {"choices": "full or empty"}, "needs a list of choices."),
        (BODY | {"choices": CHOSEN["choices"]}, "lists choices and is not a choice."),
        (BODY | {"gear": "cannon"}, "can’t let the cart go without 'cannon': it isn’t needed here"),
        (BODY | {"needs": ["rops"], "gear": "rops"}, "can’t let the cart go without 'rops'"),
    ],
)
def test_a_badly_written_check_is_refused(body: dict[str, Any], sentence: str) -> None:
    with pytest.raises(CheckRefused) as refused:
        checks_of(body)
    assert sentence in str(refused.value)
    assert str(refused.value).endswith(".")


def test_a_plain_check_is_read_with_what_is_usual() -> None:
    check = one(BODY)
    assert (check.key, check.family, check.station, check.answer) == ("bucket", "bucket", "rear", "sound")
    assert check.minutes == Decimal("0.2")
    assert (check.required, check.may_be_absent, check.photo, check.last) == (False, False, False, False)
    assert (check.second_look, check.each, check.gear, check.limit_from) == ("later", "", "", "")
    assert one(BODY | {"system": "brakes"}).second_look == "always"


def test_a_limit_may_differ_by_rule_set_and_be_missing_from_one() -> None:
    check = one(
        MEASURED
        | {
            "unit": {"au": "kPa", "us": "psi", "uk": "bar"},
            "limit": {"us": LIMIT | {"basis": "AB-03 VERIFIED-S"}, "au": LIMIT | {"value": "20"}},
        }
    )
    au, us = check.limit_for("au"), check.limit_for("us")
    assert au is not None
    assert us is not None
    assert (au.words, us.words, check.limit_for("uk")) == ("20 kPa or more", "3 psi or more", None)
    assert [(limit.rule_set, limit.basis) for limit in check.limits] == [
        ("au", "common practice, no source"),
        ("us", "AB-03 VERIFIED-S"),
    ]
    plain = one(MEASURED | {"limit": LIMIT})
    assert {plain.limit_for(rule_set) for rule_set in ("au", "us", "uk")} == {plain.limits[0].limit}


@pytest.mark.parametrize(
    ("needs", "facts", "fits"),
    [
        ([], set(), True),
        (["cannon"], {"cannon"}, True),
        (["cannon"], {"hose_reel"}, False),
        (["cannon", "hose_reel"], {"cannon"}, False),
        (["cannon|hose_reel"], {"hose_reel"}, True),
        (["cannon|hose_reel"], {"rops"}, False),
        (["!cannon"], set(), True),
        (["!cannon"], {"cannon"}, False),
        (["air_brakes", "!air_dryer"], {"air_brakes"}, True),
        (["air_brakes", "!air_dryer"], {"air_brakes", "air_dryer"}, False),
    ],
)
def test_a_check_fits_a_cart_by_its_facts(needs: list[str], facts: set[str], *, fits: bool) -> None:
    assert one(BODY | {"needs": needs}).fits(frozenset(facts)) is fits
