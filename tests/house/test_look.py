"""The look's own rules: colours only through tokens and strong enough for sun, no inline code, components that explain themselves.

Contrast: 10:1 for letters and 4.5:1 for parts of the screen (field-edge and sign figures of NUREG-0700 rev. 3, which prefers
10:1 with glare included; formula of WCAG 2.2, relative luminance).
"""

import re
from pathlib import Path

import pytest

from tests.house.specimen_content import specimen

ROOT = Path(__file__).resolve().parents[2]
SHEETS = sorted((ROOT / "static/css").rglob("*.css"))
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
COMPONENTS = sorted((ROOT / "templates/components").glob("*.html"))
OLD_PHONE = "old-phone.css"
PRINT = {"#000", "#000000", "#fff", "#ffffff"}
COLOUR = re.compile(r"#[0-9a-fA-F]{3,8}\b|\b(?:rgb|hsl|oklch)a?\(")


def without_comments(text):
    return re.sub(r"/\*.*?\*/|\{#.*?#\}|\{% comment.*?endcomment %\}", "", text, flags=re.DOTALL)


def tokens(look):
    text = without_comments((ROOT / "static/css/tokens.css").read_text())
    sun, night = text.split('[data-look="night"]')
    found = dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6});", sun))
    return found | (dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6});", night)) if look == "night" else {})


def luminance(colour):
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_formula_knows_its_ends():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("look", ["sun", "night"])
@pytest.mark.parametrize(
    ("front", "ground", "least"),
    [
        ("ink", "paper", 10),
        ("ink", "paper-2", 10),
        ("ink", "working-wash", 10),
        ("ink-2", "paper", 10),
        ("ink-2", "paper-2", 10),
        ("working", "paper", 7),
        ("working", "paper-2", 7),
        ("working-ink", "working", 7),
        ("line-firm", "paper", 10),
        ("stop", "paper", 4.5),
        ("safe", "paper", 4.5),
        ("must", "paper", 4.5),
        ("on-stop", "stop", 4.5),
        ("on-caution", "caution", 7),
        ("on-safe", "safe", 4.5),
        ("on-must", "must", 4.5),
    ],
)
def test_colours_hold_in_sun_and_at_night(look, front, ground, least):
    found = tokens(look)
    assert contrast(found[front], found[ground]) >= least


@pytest.mark.parametrize(
    "sheet", [sheet for sheet in SHEETS if sheet.name != "tokens.css"], ids=lambda sheet: sheet.name
)
def test_colours_come_from_tokens(sheet):
    found = set(COLOUR.findall(without_comments(sheet.read_text())))
    if sheet.name == OLD_PHONE:
        # Browsers that drop the tokens get the same colours said again, and no others.
        assert found <= set(tokens("sun").values()) | {"#ffffff"}
    elif sheet.name == "main.css":
        assert found <= PRINT
    else:
        fallbacks = set(re.findall(r"var\(--[\w-]+,\s*(#[0-9a-f]+)\)", sheet.read_text()))
        assert found <= fallbacks | PRINT


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_a_sheet_opens_by_saying_what_it_is(sheet):
    assert sheet.read_text().startswith("/*")


@pytest.mark.parametrize("template", COMPONENTS, ids=lambda template: template.name)
def test_a_component_opens_by_naming_its_variables(template):
    assert re.match(r"(\{% load [\w ]+ %\})?\{% comment %\}", template.read_text())


def page_name(template):
    return str(template.relative_to(ROOT / "templates"))


@pytest.mark.parametrize("template", TEMPLATES, ids=page_name)
def test_nothing_in_a_template_needs_inline_rights(template):
    markup = without_comments(template.read_text())
    assert not re.search(r"\sstyle\s*=|<style\b|\son[a-z]+\s*=|javascript:|hx-on|hx-vals=['\"]js", markup)
    assert all("src=" in tag for tag in re.findall(r"<script\b[^>]*>", markup))
    assert len(template.read_text().splitlines()) <= 150


@pytest.mark.parametrize("layout", ["desk", "yard", "plain"])
def test_the_specimen_draws_every_component_whole(layout):
    page = specimen(f"layouts/{layout}.html")
    for name in (
        "readiness-held",
        "readiness-ready",
        "readiness-limits",
        "hand-hatch",
        "faults",
        "field-fault",
        "pager",
        "empty",
        "steps",
        "working",
        "photos",
        "notice-list",
        "signature-pad",
        "caution",
        "plate",
    ):
        assert f"{name}" in page
    assert page.count("<h1>") == 1
    assert page.count('id="main"') == 1
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert sorted(ids) == sorted(set(ids))
    assert "Specimen – Slake" in page
    assert "None" not in page


def test_the_specimen_has_the_navigation_of_a_real_page():
    page = specimen()
    nav = page[page.index('<nav class="yard-nav"') : page.index("</nav>")]
    in_line, more = nav.split("<summary>More</summary>")
    assert re.findall(r">(Today|Carts|Workshop)</a>", in_line) == ["Today", "Carts", "Workshop"]
    assert ">Tablets</a>" in more
    assert "yard-nav" not in specimen("layouts/plain.html")


def test_a_number_that_is_none_comes_back_as_it_was_typed():
    page = specimen()
    assert 'value="six hundred"' in page
    assert 'inputmode="decimal"' in page
    assert 'type="number"' not in page


def test_a_page_that_came_back_says_so_in_its_title_first():
    assert "<title>Not saved: Specimen – Slake</title>" in specimen()


def test_the_customer_page_shows_no_way_into_the_yard_and_loads_no_request_library():
    page = specimen("layouts/plain.html")
    assert "htmx" not in page
    assert "Sign out" not in page
    assert "old-phone.css" in page
    assert "find-q" not in page


def test_the_request_library_is_told_what_it_may_not_do():
    page = specimen()
    for rule in (
        '"allowEval": false',
        '"allowScriptTags": false',
        '"selfRequestsOnly": true',
        '"historyCacheSize": 0',
        '"includeIndicatorStyles": false',
        '{"code": "422", "swap": true}',
    ):
        assert rule in page
    assert page.index("htmx-config") < page.index("htmx.min.js")
    assert 'hx-headers=\'{"X-CSRFToken": ' in page
