"""The calendar library against published lists, and against its own rules where no list was seen.

What stands in a list below was read in the page named beside it on 2026-11-26; these pages are no government's own, so they
stand as second-hand. What no list was seen for is the library's own data and says so.
"""

from __future__ import annotations

from datetime import date

import pytest

from hire.public_holidays import calendar, regions

# microkeeper.com.au, list of Australian public holidays, SA, 2026 (second-hand). The library calls 26 December Proclamation Day.
SOUTH_AUSTRALIA = {
    "01-01", "01-26", "03-09", "04-03", "04-04", "04-05", "04-06", "04-25", "06-08", "10-05", "12-25", "12-26", "12-28",
}  # fmt: skip
# shiftflow.app, Texas holidays 2026 (second-hand): the federal days kept in Texas, Independence Day moved to the Friday, and
# the state's own. The library has the state's optional and partly staffed days besides, which the yard may strike.
TEXAS = {
    "01-01", "01-19", "02-16", "05-25", "06-19", "07-03", "07-04", "09-07", "11-11", "11-26", "12-25",
    "03-02", "04-21", "08-27", "11-27",
}  # fmt: skip
# Wikipedia's table of Schedule 1 to the Banking and Financial Dealings Act 1971 (second-hand), for 2026 by its rules; the
# substitute of a Saturday 26 December is a proclamation's: from memory. 15 June 2026 is the library's own data.
SCOTLAND = {
    "01-01", "01-02", "04-03", "05-04", "05-25", "08-03", "11-30", "12-25", "12-28",
}  # fmt: skip


def days(*where):
    return {f"{on:%m-%d}" for on in calendar(*where, 2026)}


def test_south_australia_is_the_published_list_to_the_day():
    assert days("AU", "SA") == SOUTH_AUSTRALIA


@pytest.mark.parametrize(
    ("where", "published", "more"),
    [
        pytest.param(
            ("US", "TX"), TEXAS, {"03-31", "04-03", "12-24", "12-26"}, id="Texas, and its optional days"
        ),
        pytest.param(("GB", "SCT"), SCOTLAND, {"06-15", "12-26"}, id="Scotland, and the library’s own"),
    ],
)
def test_a_state_and_a_nation_have_what_is_published(where, published, more):
    assert days(*where) == published | more


def test_regions_differ_and_a_wrong_one_is_told():
    assert date(2026, 3, 9) not in calendar("AU", "NSW", 2026)
    assert "SA" in regions("AU")
    assert "SA" not in regions("GB")
    with pytest.raises(ValueError, match="knows no region SA of GB"):
        calendar("GB", "SA", 2026)
