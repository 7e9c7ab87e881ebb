"""Rendering: the same content gives the same bytes, nothing is fetched, nothing is left out, nothing runs."""

import hashlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from inspections.certificates.render import RenderFault, _Fetcher, _Refused, page_html, render
from inspections.certificates.typeface import printable
from tests.inspections.certificate_files import SAMPLES, pages, pages_of, paper, text, unsealed
from tests.inspections.certificate_papers import fit, limited
from tests.inspections.certificate_samples import CART, lap_svg

ROOT = Path(__file__).resolve().parents[2]
REMAKE = """
import hashlib, sys
import django
from django.conf import settings
backend = "django.template.backends.django.DjangoTemplates"
settings.configure(TEMPLATES=[{"BACKEND": backend, "DIRS": ["templates"]}])
django.setup()
from inspections.certificates.render import render
from tests.inspections import certificate_papers
from tests.inspections.certificate_samples import lap_svg
content, photos = certificate_papers.limited()
sys.stdout.write(hashlib.sha256(render(content, photos=photos, lap_svg=lap_svg())).hexdigest())
"""


def test_the_same_content_gives_the_same_bytes_in_this_process_and_in_another():
    content, photos = paper("limited")
    first = unsealed("limited")
    assert render(content, photos=photos, lap_svg=lap_svg()) == first
    environment = os.environ | {"PYTHONHASHSEED": "77", "TZ": "Pacific/Auckland", "PYTHONPATH": str(ROOT)}
    other = subprocess.run(
        [sys.executable, "-c", REMAKE], env=environment, cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert other.stdout == hashlib.sha256(first).hexdigest()


def test_another_word_gives_other_bytes():
    content, photos = paper("fit")
    moved = replace(content, hire=replace(content.hire, place_of_work="Elsewhere"))
    assert render(moved, photos=photos, lap_svg=lap_svg()) != unsealed("fit")


@pytest.mark.parametrize(
    "url",
    [
        "https://carts.example/logo.png",
        "file:///etc/passwd",
        "data:text/plain,hello",
        "https://paper.invalid/photo/../print.css",
        "https://paper.invalid/photo/" + "0" * 64,
        "https://paper.invalid/fonts/",
    ],
)
def test_nothing_but_the_papers_own_parts_is_fetched(url):
    with pytest.raises(_Refused):
        _Fetcher({}).fetch(url)


def test_a_drawing_that_points_elsewhere_stops_the_rendering():
    content, photos = paper("fit")
    bad = lap_svg().replace(
        "</svg>", '<image href="https://carts.example/x.png" width="9" height="9"/></svg>'
    )
    with pytest.raises(
        RenderFault, match=r"SLK-2026-00042-5 could not be laid out whole.*carts\.example/x\.png"
    ):
        render(content, photos=photos, lap_svg=bad)


def test_a_photo_that_is_missing_or_not_the_one_named_is_refused():
    content, photos = paper("fit")
    digest = content.photos[0].print_sha256
    with pytest.raises(ValueError, match="print of photo 1 is missing"):
        render(content, photos={k: v for k, v in photos.items() if k != digest}, lap_svg=lap_svg())
    with pytest.raises(ValueError, match="print of photo 1 is not the one"):
        render(content, photos=photos | {digest: b"another picture"}, lap_svg=lap_svg())


def test_words_somebody_typed_are_words_and_not_markup():
    content, photos = paper("fit")
    cart = replace(CART, fleet_number='<img src="https://carts.example/x.png">', plate="A&B")
    page = page_html(replace(content, cart=cart), lap_svg=lap_svg())
    assert "<img src=&quot;" not in page
    assert "&lt;img src=&quot;https://carts.example/x.png&quot;&gt;" in page
    read = " ".join(pages_of(render(replace(content, cart=cart), photos=photos, lap_svg=lap_svg())))
    assert "A&B" in read


@pytest.mark.parametrize("name", SAMPLES)
def test_the_page_has_no_style_attribute_no_script_and_no_handler(name):
    content, _ = paper(name)
    page = page_html(content, lap_svg=lap_svg())
    assert not re.search(r"<script|<style|\sstyle=|\son[a-z]+=|javascript:", page)


@pytest.mark.parametrize("name", SAMPLES)
def test_every_foot_says_which_paper_which_page_and_how_to_prove_it(name):
    content, _ = paper(name)
    record = " ".join(re.findall("....", content.record_sha256[:16]))
    found = pages(name)
    issued = {"A": "Issued 25 November 2026, 16:42 UTC+10:30", "B": "Issued 27 November 2026"}
    for number, page in enumerate(found, start=1):
        foot = page[-400:]
        assert f"{content.number}, revision {content.revision}" in foot
        assert f"page {number} of {len(found)}" in foot
        assert f"Record {record}" in foot
        assert content.verify.address in foot
        assert issued["A" if content.kind == "pre_hire_certificate" else "B"] in foot
    ends = [
        page for page in found if re.search(r"End of (certificate|receipt) " + content.number, page[-80:])
    ]
    assert ends == [found[-1]]


def test_page_1_says_which_cart_whether_it_may_go_what_is_limited_and_who_says_so():
    page = pages("limited")[0]
    for words in (
        "WC-14", "TC 14 WR", "Goes with limits", "Cannon not to be used", "Tag T-0091", "Passed by authority: 500-hour service",
        "Owen Pratt, workshop manager", "2 December 2026, 17:00, or when 6,450 h is read", "Signed: Kim Osei, yard hand",
        "Open defects: 2", "Replaces SLK-2026-00041-7. Why: the plate was written TC 41 WR",
    ):  # fmt: skip
        assert words in page, words


def test_each_answer_is_printed_in_its_own_words():
    found = text("limited")
    for words in (
        "Good 1 Maker’s handbook aboard",
        "Not on this cart 12 Retarder",
        "Couldn’t check 26 Tank lid and vent (lid locked; key with the night shift)",
        "Something’s wrong 31 Cannon mount (do not use; cracked at the foot; photo 2)",
        "22 Least tread depth, 1R 11.0 mm (at least 3.0 mm, within limit)",
        "Not checked 26 Tank lid and vent, lid locked, key with the night shift",
    ):
        assert words in found, words


def test_open_defects_stand_in_full_with_grade_and_date():
    found = text("limited")
    assert "2. Reverse lamp dead, Rear, right The left lamp and the alarm work." in found
    assert "Grade: Repair by a date. Repair by: 30 November 2026." in found
    assert "Grade: Do not use, isolated and tagged out of use." in found


def test_photos_stand_with_item_time_and_short_hash():
    content, _ = paper("limited")
    found = text("limited")
    for photo in content.photos:
        short = " ".join(re.findall("....", photo.sha256[:16]))
        assert short in found
        assert f"{photo.number}. {photo.item}" in found
    assert "25 November 2026, 13:27" in found


def test_meters_tyres_extinguishers_and_papers_stand_with_their_next_dates():
    found = text("fit")
    for words in (
        "Engine hours 6412.3 h, read 25 November 2026, 13:24",
        "2LO left rear, front axle, outer 9.5 mm (change out at 3.0 mm, Karst KR2 11R22.5)",
        "DP9-44871 9 kg dry powder, Left side, behind the cab. Next: six-monthly service March 2027",
        "Registration TC 14 WR, until 30 June 2027",
        "Rollover plate RF-2207, until no end date",
    ):
        assert words in found, words


def test_a_receipt_names_its_certificate_what_went_and_who_took_it():
    found = text("signed_receipt")
    for words in (
        "Signed for", "On certificate SLK-2026-00043-0, revision 2", "Taken: Tomasz Żuławski, leading hand",
        "Tomasz Żuławski accepts these limits by signing.", "1 Standpipe with meter, permit aboard, serial SP-118",
        "I have seen the cart, its open defects and its limits, and take it as written here.",
        "Full tank: not on a public road.", "Scrape 40 cm long above the side board, old, painted over (photo 1)",
    ):  # fmt: skip
        assert words in found, words


def test_a_receipt_of_a_cart_left_says_where_when_and_that_nobody_was_there():
    found = text("left_receipt")
    for words in (
        "Left, nobody present", "Left by Marek Dolan, yard hand",
        "Where, when Saltbush Road compound, inside the north gate, 27 November 2026, 04:55",
        "Shown in photos 1, 2 and 3", "No customer’s signature: nobody was present.",
    ):  # fmt: skip
        assert words in found, words


def test_a_typed_signature_prints_the_name_as_its_hand():
    content, photos = fit(photo_count=0, looks=5)
    typed = replace(content.signatures[0], kind="typed", strokes=(), name="Nguyễn Văn Hải")
    made = render(replace(content, signatures=(typed,)), photos=photos, lap_svg=lap_svg())
    assert "Nguyễn Văn Hải Nguyễn Văn Hải, yard hand" in " ".join(pages_of(made)).replace(" typed ", " ")


def test_a_dot_of_a_drawn_signature_is_drawn():
    content, _ = fit(photo_count=0, looks=5)
    dotted = replace(content.signatures[0], strokes=(((0, 0, 0), (40, 0, 10)), ((20, 9, 50),)))
    page = page_html(replace(content, signatures=(dotted,)), lap_svg="")
    assert 'd="M2,2 42,2M22,11 22,11"' in page


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("Nguyễn Žižek Ångström Ελένη Юрий", "Nguyễn Žižek Ångström Ελένη Юрий"),
        ("e\u0301", "é"),
        ("李 ok", "[U+674E] ok"),
        ("a\u202eb\u200bc\x07", "abc"),
        ("line\nline\ttab", "line\nline\ttab"),
    ],
)
def test_a_letter_no_typeface_has_stands_as_its_code(typed, printed):
    assert printable(typed) == printed


def test_a_hundred_looks_and_a_dozen_photos_are_all_there():
    content, photos = limited(looks=97, photo_count=12)
    found = pages_of(render(content, photos=photos, lap_svg=lap_svg()))
    whole = " ".join(found)
    assert "97 Left as found, keys in the safe" in whole
    assert "12. Fuel cap" in whole
    assert f"page {len(found)} of {len(found)}" in found[-1]


def test_a_wide_drawing_stands_across_the_page_and_none_leaves_no_hole():
    content, photos = fit(photo_count=0, looks=5)
    wide = lap_svg().replace('viewBox="0 0 340 830"', 'viewBox="0 0 830 340"')
    assert "paper-lap-wide" in page_html(content, lap_svg=wide)
    assert "paper-lap" not in page_html(content, lap_svg="")
    assert "WC-14" in pages_of(render(content, photos=photos, lap_svg=""))[0]
