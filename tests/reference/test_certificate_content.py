"""Outside checks for papers: what a test certificate states, and a check digit's published example."""

from dataclasses import replace

import pytest

from inspections.certificates.content import NOT_IN_PART, ONLY_THIS_CART
from inspections.certificates.numbers import check_digit
from inspections.certificates.render import render
from tests.inspections.certificate_files import pages, pages_of, paper, text
from tests.inspections.certificate_papers import fit

# ISO/IEC 17025:2017 7.8.2.1 as restated (V secondary), letters a to p, each with words only that item puts on the page.
# k (reference to the sampling plan) stands here as the looks that were on the sheet and were not done.
ITEMS = (
    ("a title", ("Pre-hire certificate",)),
    ("b issuer, name and address", ("Tallow Creek Water Carts", "12 Weighbridge Road, Ironbark Flat SA")),
    ("c place of the work", ("Done at Tallow Creek yard, bay 2",)),
    ("d unique identification and a clear end", ("SLK-2026-00043-0", "End of certificate SLK-2026-00043-0")),
    (
        "e customer, name and contact",
        ("Merrin & Daughters Civil", "Contact: Aoife Merrin, 08 5550 2231"),
    ),
    ("f method", ("Sheet Pre-hire check, issue 4",)),
    (
        "g item, identified, and its condition",
        ("TC 14 WR", "VIN 7ABTC14W0K1000147", "1. Cannon mount cracked, Tank top"),
    ),
    ("h when it was taken in hand", ("Done on 25 November 2026, 13:20 to 14:31",)),
    (
        "i dates of the work",
        ("Signed: Kim Osei, yard hand, 25 November 2026, 14:31", "measured 25 November 2026"),
    ),
    ("j date of issue", ("Revision 2, issued 25 November 2026, 16:42", "UTC+10:30, Australia/Adelaide")),
    (
        "k what the sheet asked and was not done",
        ("Not checked 26 Tank lid and vent, lid locked, key with the night shift",),
    ),
    ("l only this item", (ONLY_THIS_CART,)),
    ("m results with units and limits", ("8 Air at cut-out 850 kPa (800 to 950 kPa, within limit)",)),
    ("n deviations", ("Departures Tank lid not opened; water level read at the sight tube instead",)),
    ("o who authorises", ("Issued: Rosa Ferreira, hire desk",)),
    (
        "p what came from outside",
        ("From others Tyre pressures of 20 November 2026 read by Dray Tyres, Ironbark Flat",),
    ),
)


@pytest.mark.parametrize(("item", "words"), ITEMS, ids=[item for item, _ in ITEMS])
def test_a_certificate_states_the_item(item, words):
    found = text("limited")
    for line in words:
        assert line in found, item


def test_sixteen_items_are_asked_for():
    assert [item[0] for item, _ in ITEMS] == list("abcdefghijklmnop")


def test_every_page_is_known_as_part_of_one_paper():
    # ISO/IEC 17025:2017 7.8.2.1 d as restated; page n of N from the earlier edition, as restated (V secondary).
    found = pages("limited")
    for number, page in enumerate(found, start=1):
        assert "SLK-2026-00043-0, revision 2" in page
        assert f"page {number} of {len(found)}" in page


def test_it_advises_against_copying_in_part_and_an_amended_one_names_the_one_replaced_and_why():
    # ISO/IEC 17025:2017 7.8.2.1 note and 7.8.8 as restated (V secondary).
    assert NOT_IN_PART in text("limited")
    assert "Replaces SLK-2026-00041-7. Why: the plate was written TC 41 WR" in text("limited")
    assert "Replaces" not in text("fit")


def test_an_item_that_is_not_in_the_content_is_not_on_the_page():
    # The guard of the table above, seen to fail: another place of work gives a page without the first one's words.
    content, photos = fit(photo_count=0, looks=5)
    moved = replace(content, method=replace(content.method, place="Saltbush Road compound"))
    assert "Done at Tallow Creek yard, bay 2" not in " ".join(
        pages_of(render(moved, photos=photos, lap_svg=""))
    )


def test_the_check_digit_of_the_published_example():
    # H. M. Damm's algorithm: the widely printed example 572 has check digit 4 (from memory).
    assert check_digit("572") == 4
    assert check_digit("5724") == 0


def test_the_pages_words_are_the_contents_words():
    content, _ = paper("limited")
    found = text("limited")
    for line in (content.concerns, *content.cautions):
        assert line in found
