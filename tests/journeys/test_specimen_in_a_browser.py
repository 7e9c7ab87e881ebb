"""The specimen in a real browser: axe in both looks and four sizes, targets, reflow, focus, signature, switches.

No server: each request is answered from the rendered template or the static folder, under the content policy we ship.
"""

import json
import mimetypes
from io import BytesIO
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from PIL import Image

from tests.house.specimen_content import specimen

pytestmark = pytest.mark.journey

ROOT = Path(__file__).resolve().parents[2]
ADDRESS = "http://yard.example"
SIZES = {"desk": (1366, 900), "tablet": (1024, 768), "tablet upright": (768, 1024), "phone": (390, 844)}
TARGETS = (
    ".button, .yard-nav a, .board-key a, .field-choices label, .field-tick label, select, textarea,"
    " .yard .page-head-back a, .yard .faults a, .yard .section-head a,"
    " input:not([type=hidden], [type=radio], [type=checkbox])"
)
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"target-size": {"enabled": True}},
}


def policy():
    parts = settings.CONTENT_SECURITY_POLICY["DIRECTIVES"]
    return "; ".join(f"{name} {' '.join(values)}" for name, values in parts.items())


def photo():
    picture = BytesIO()
    Image.new("RGB", (400, 300), (120, 104, 84)).save(picture, "JPEG")
    return picture.getvalue()


def answer(route):
    path = urlsplit(route.request.url).path
    if path.startswith("/static/"):
        file = ROOT / path.lstrip("/")
        route.fulfill(body=file.read_bytes(), content_type=mimetypes.guess_type(file.name)[0])
    elif path.endswith(".jpg"):
        route.fulfill(body=photo(), content_type="image/jpeg")
    else:
        page = specimen(f"layouts{path}.html")
        route.fulfill(body=page, content_type="text/html", headers={"Content-Security-Policy": policy()})


@pytest.fixture(scope="module")
def browser(chromium):
    return chromium


@pytest.fixture
def open_page(browser):
    contexts = []

    def inner(layout, size="tablet", look="sun", **options):
        width, height = SIZES.get(size, size) if isinstance(size, str) else size
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        context.add_init_script(f"localStorage.setItem('slake-look', '{look}')")
        context.route("**/*", answer)
        page = context.new_page()
        page.goto(f"{ADDRESS}/{layout}")
        return page

    yield inner
    for context in contexts:
        context.close()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("layout", "look"), [("desk", "sun"), ("yard", "sun"), ("yard", "night"), ("plain", "sun")]
)
def test_axe_finds_nothing_and_nothing_runs_off_the_side(open_page, layout, look, size):
    page = open_page(layout, size, look)
    found = Axe().run(page, options=RULES).response
    assert len(found["passes"]) > 20
    assert [(fault["id"], [node["html"] for node in fault["nodes"]]) for fault in found["violations"]] == []
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


@pytest.mark.parametrize("size", SIZES)
def test_what_is_behind_more_opens_on_the_page_and_is_large_enough(open_page, size):
    page = open_page("desk", size)
    page.locator("summary", has_text="More").click()
    boxes = [one.bounding_box() for one in page.locator(".yard-nav-more a").all()]
    assert len(boxes) >= 2
    width = page.evaluate("innerWidth")
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= width and box["height"] >= 44 for box in boxes)
    assert size != "phone" or Axe().run(page, options=RULES).response["violations"] == []


@pytest.mark.parametrize("layout", ["desk", "yard", "plain"])
def test_it_reflows_at_320_pixels(open_page, layout):
    page = open_page(layout, (320, 800))
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


@pytest.mark.parametrize(("layout", "least_px"), [("desk", 44), ("yard", 64)])
def test_buttons_and_boxes_are_as_large_as_the_density_says(open_page, layout, least_px):
    page = open_page(layout)
    heights = page.eval_on_selector_all(
        TARGETS,
        "all => all.filter(one => one.offsetParent)"
        ".map(one => [one.outerHTML.slice(0, 80), one.getBoundingClientRect().height])",
    )
    assert len(heights) > 20
    assert [each for each in heights if each[1] < least_px] == []


def test_a_main_choice_is_twenty_millimetres_on_its_short_side(open_page):
    box = open_page("yard").locator(".button-main").bounding_box()
    assert min(box["width"], box["height"]) >= 104


def test_a_page_with_faults_takes_focus_and_its_links_lead_to_the_fields(open_page):
    page = open_page("desk")
    assert page.evaluate("document.activeElement.matches('[data-focus-fault]')")
    page.get_by_role("link", name="Torque wrench: Choose one.").click()
    assert page.evaluate("document.activeElement.id") == "id_wrench"
    page.get_by_role("link", name="I looked at the other tyre").click()
    assert page.evaluate("document.activeElement.id") == "id_seen"


def test_no_focused_thing_lies_under_a_sticky_head(open_page):
    page = open_page("desk", (1366, 500))
    page.evaluate("document.activeElement.blur()")
    covered = []
    for _ in range(70):
        page.keyboard.press("Tab")
        covered += page.evaluate(
            """() => {
              const one = document.activeElement;
              if (one === document.body || one.matches('input[type=hidden]')) return [];
              const box = one.getBoundingClientRect();
              const top = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
              return one.contains(top) || top?.contains(one) ? [] : [one.outerHTML.slice(0, 90)];
            }"""
        )
    assert covered == []


def test_a_drawn_name_is_kept_as_strokes_and_can_be_wiped(open_page):
    page = open_page("yard")
    pad = page.locator("[data-signature-pad]")
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    page.mouse.move(box["x"] + 20, box["y"] + 30)
    page.mouse.down()
    page.mouse.move(box["x"] + 80, box["y"] + 60, steps=5)
    page.mouse.up()
    field = page.locator("[data-signature-strokes]")
    strokes = json.loads(field.input_value())
    assert len(strokes) == 1
    assert strokes[0][0][:2] == [20, 30]
    assert strokes[0][-1][:2] == [80, 60]
    assert [point[2] for point in strokes[0]] == sorted(point[2] for point in strokes[0])
    page.get_by_role("button", name="Wipe the drawing").click()
    assert field.input_value() == ""


def test_look_and_hand_are_chosen_by_a_button_and_kept(open_page):
    page = open_page("yard")
    ground = "getComputedStyle(document.body).backgroundColor"
    sun = page.evaluate(ground)
    page.get_by_role("button", name="Night look").click()
    assert page.evaluate(ground) != sun
    assert page.get_by_role("button", name="Sun look").is_visible()
    page.get_by_role("button", name="Left hand").click()
    assert page.evaluate(
        "[document.documentElement.dataset.look, document.documentElement.dataset.hand]"
    ) == ["night", "left"]
    assert page.evaluate("localStorage.getItem('slake-hand')") == "left"


def test_without_scripts_the_page_is_whole_and_offers_nothing_that_needs_them(open_page):
    page = open_page("yard", java_script_enabled=False)
    assert page.get_by_label("Type your full name").is_visible()
    assert not page.locator("[data-signature-pad]").is_visible()
    assert not page.get_by_role("button", name="Night look").is_visible()


def test_the_content_policy_is_never_broken(open_page):
    page = open_page("yard")
    said = []
    page.on(
        "console",
        lambda message: said.append(message.text) if "Content Security Policy" in message.text else None,
    )
    page.reload()
    page.get_by_role("button", name="Night look").click()
    assert said == []
