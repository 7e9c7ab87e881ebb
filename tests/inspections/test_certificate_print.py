"""Paper is paper: the mark is read by a scanner's eye, and a one-bit print keeps every word of page 1."""

import io
import re
import subprocess

import numpy
import pytest
import zxingcpp
from PIL import Image

from inspections.certificates.qr import QUIET_MODULES, qr_svg
from tests.inspections.certificate_files import SAMPLES, paper, unsealed

DPI = 200
QR_SIDE_MM = re.compile(r'viewBox="0 0 (\d+) \1" width="([\d.]+)mm" height="\2mm"')


def printed(pdf: bytes, *, one_bit: bool) -> Image.Image:
    """Page 1 as a printer gets it."""
    kind = "-mono" if one_bit else "-gray"
    command = ["pdftoppm", kind, "-r", str(DPI), "-f", "1", "-l", "1", "-singlefile", "-"]
    made = subprocess.run(command, input=pdf, capture_output=True, check=True)
    return Image.open(io.BytesIO(made.stdout)).convert("L")


def word_boxes(pdf: bytes) -> list[tuple[str, tuple[int, int, int, int]]]:
    """Every word of page 1 with its box in pixels."""
    command = ["pdftotext", "-bbox", "-f", "1", "-l", "1", "-", "-"]
    made = subprocess.run(command, input=pdf, capture_output=True, check=True).stdout.decode()
    row = re.compile(r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</word>')
    scale = DPI / 72
    boxes = []
    for match in row.finditer(made):
        left, top, right, bottom = (int(float(match[n]) * scale) for n in (1, 2, 3, 4))
        boxes.append((match[5], (left, top, right + 1, bottom + 1)))
    return boxes


@pytest.mark.parametrize("name", SAMPLES)
def test_the_mark_is_read_off_a_one_bit_print_and_says_the_verify_address(name):
    content, _ = paper(name)
    read = zxingcpp.read_barcodes(printed(unsealed(name), one_bit=True))
    assert [(mark.format.name, mark.text) for mark in read] == [("QRCode", content.verify.url)]
    assert read[0].ec_level == "M"


@pytest.mark.parametrize(
    "url", ["https://a.example/v/1", "https://carts.tallowcreek.example/v/5N9V-4J3H-V42C5?from=paper"]
)
def test_the_mark_is_at_least_25_mm_wide_with_a_quiet_zone_of_four_modules(url):
    svg = qr_svg(url, title="mark")
    size = QR_SIDE_MM.search(svg)
    assert size
    modules, side_mm = int(size[1]), float(size[2])
    symbol = modules - 2 * QUIET_MODULES
    assert QUIET_MODULES >= 4
    assert symbol % 4 == 1
    assert side_mm / modules * symbol >= 25
    path = svg.partition(' d="')[2].partition('"')[0]
    points = [int(n) for n in re.findall(r"\d+", path)]
    assert (min(points), max(points)) == (QUIET_MODULES, QUIET_MODULES + symbol)


def test_the_printed_mark_keeps_its_size():
    corners = zxingcpp.read_barcodes(printed(unsealed("fit"), one_bit=True))[0].position
    assert (corners.top_right.x - corners.top_left.x) / DPI * 25.4 >= 25


def test_a_title_cannot_break_out_of_the_drawing():
    assert "<title>a &lt;b&gt; &amp; c</title>" in qr_svg("x", title="a <b> & c")


@pytest.mark.parametrize("name", SAMPLES)
def test_a_one_bit_print_keeps_every_word_of_page_1(name):
    pdf = unsealed(name)
    bits = numpy.asarray(printed(pdf, one_bit=True)) < 128
    grey = numpy.asarray(printed(pdf, one_bit=False)) < 128
    boxes = word_boxes(pdf)
    assert len(boxes) > 100
    for word, (left, top, right, bottom) in boxes:
        ink, wanted = bits[top:bottom, left:right], grey[top:bottom, left:right]
        assert 0.02 < ink.mean() < 0.75, word
        # Dithering that ate strokes, or a ground that turned to black, would part the two.
        assert (ink == wanted).mean() > 0.9, word


def test_the_large_answer_is_the_largest_word_of_its_page():
    height = {word: bottom - top for word, (_, top, _, bottom) in word_boxes(unsealed("limited"))}
    assert {word for word, tall in height.items() if tall >= 0.8 * max(height.values())} == {
        "WC-14",
        "Goes",
        "with",
        "limits",
    }
