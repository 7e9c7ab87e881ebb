"""The main job from end to end: a cart is walked, judged, mended, promised, certified, handed over and proven genuine."""

import hashlib
import io
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Locator, expect

from tests.journeys.visitor import Visitor
from tests.journeys.walk import Finding, Walk
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.journey

CART = "WC-23"
METERS = {"engine-hours": "11400.5", "pump-hours": "5490", "odometer": "189400"}
CUSTOMER = "Thornwick Civil"
CHECK = "hydraulic-hoses"
WORDS = "Hose chafed through to the braid, oil at the fitting"


@dataclass
class Story:
    """What one part of the story learns and a later part needs."""

    visit: Callable[..., Visitor]
    cart_id: str = ""
    defect_url: str = ""
    line_url: str = ""
    numbers: list[str] = field(default_factory=list)
    link: str = ""


def test_a_cart_is_walked_judged_mended_handed_over_and_proven(visit: Callable[..., Visitor]) -> None:
    story = Story(visit)
    a_pre_hire_check_finds_a_chafed_hose(story)
    the_workshop_mends_it_and_somebody_else_looks(story)
    the_desk_promises_the_cart(story)
    the_certificate_issues_itself_and_is_corrected_once(story)
    the_gate_refuses_until_the_gate_out_check(story)
    the_customer_signs_at_the_gate(story)
    the_customer_proves_the_paper(story)
    the_link_is_ended(story)


def a_pre_hire_check_finds_a_chafed_hose(story: Story) -> None:
    wes = story.visit("wes", "tablet")
    walk = Walk(wes, CART, METERS)
    story.cart_id = walk.cart["id"]
    wes.open(plate_address(story))
    wes.page.get_by_role("heading", name=CART, exact=True).wait_for()
    wes.finds_nothing_wrong()
    walk.begin("pre_hire")
    wes.finds_nothing_wrong()
    photo = camera_jpeg(width=1512, height=2016, orientation=6)
    looks = walk.answer_all(Finding(CHECK, "do_not_use", WORDS, photo))
    assert 85 <= looks <= 105
    wes.sees("1 wrong")
    wes.sees(WORDS)
    wes.finds_nothing_wrong()
    walk.sign_by_drawing()
    expect(wes.page.get_by_role("heading", level=1)).to_have_text("Held")
    expect(wes.page.locator(".reasons")).to_contain_text("Hydraulic")
    wes.sees("The yard received it")
    wes.finds_nothing_wrong()
    wes.follow("See the record")
    wes.sees(WORDS)
    wes.finds_nothing_wrong()


def plate_address(story: Story) -> str:
    """What a camera reads off the cart's printed plate."""
    noor = story.visit("noor")
    noor.open(f"/carts/{story.cart_id}/plate/")
    noor.finds_nothing_wrong()
    printed = Image.open(io.BytesIO(noor.page.locator("main svg").first.screenshot()))
    (code,) = zxingcpp.read_barcodes(printed)
    assert "/plate/" in code.text
    return str(code.text)


def the_workshop_mends_it_and_somebody_else_looks(story: Story) -> None:
    bruna = story.visit("bruna")
    bruna.open("/workshop/")
    row = bruna.page.get_by_role("row").filter(has_text=CART).filter(has_text="Do not use")
    row.get_by_role("link").nth(1).click()
    story.defect_url = re.sub(r"#.*", "", bruna.page.url)
    bruna.sees(WORDS)
    bruna.finds_nothing_wrong()
    look = unfold(bruna, "look")
    look.get_by_label("Whose job it is").select_option(label="Teo Marsden")
    look.get_by_label("What you found").fill("Hose off the tipping side, bracket sharp.")
    send(look)
    bruna.sees("Teo Marsden")
    teo = story.visit("teo")
    teo.open(story.defect_url)
    send(unfold(teo, "start"))
    repair = unfold(teo, "repair")
    repair.get_by_label("What was done").fill(
        "New hose made up and clamped clear of the bracket, run and dry."
    )
    send(repair)
    teo.sees("You repaired this yourself, so somebody else gives it the second look.")
    expect(teo.page.locator("#second-look")).to_have_count(0)
    teo.finds_nothing_wrong()
    own_second_look_is_refused(teo, story)
    isla = story.visit("isla", "tablet")
    isla.open(story.defect_url)
    look = unfold(isla, "second-look")
    isla.finds_nothing_wrong()
    look.get_by_label("What you looked at").fill("Run at pressure with the heads open: dry.")
    send(look)
    isla.sees("has had its second look")
    isla.open(f"/carts/{story.cart_id}/")
    isla.sees_not("Hydraulic hoses, do not use")
    isla.finds_nothing_wrong()


def unfold(visitor: Visitor, step: str) -> Locator:
    """One step of a defect's page, opened when it is folded."""
    block = visitor.page.locator(f"details#{step}")
    if block.get_attribute("open") is None:
        block.locator("summary").click()
    return block


def send(form: Locator) -> None:
    """Presses the button that sends a form; a field for a file counts as a button too, and is none."""
    form.locator("button").last.click()


def own_second_look_is_refused(fitter: Visitor, story: Story) -> None:
    """Not offered on the page, and refused when it is posted all the same."""
    form = fitter.page.locator("details#send-back form")
    answer = fitter.page.request.post(
        f"{story.defect_url}second-look/",
        form={
            "csrfmiddlewaretoken": form.locator("[name=csrfmiddlewaretoken]").input_value(),
            "version": form.locator("[name=version]").input_value(),
            "words": "Mine is fine.",
        },
        headers={"Referer": story.defect_url},
    )
    assert answer.status == 422
    assert "somebody else" in answer.text()


def the_desk_promises_the_cart(story: Story) -> None:
    dot = story.visit("dot")
    dot.open("/hire/add/")
    dot.finds_nothing_wrong()
    form, now = dot.page.locator("main form"), datetime.now(ZoneInfo("Australia/Adelaide"))
    form.get_by_label("Customer").select_option(label=CUSTOMER)
    form.get_by_label("Cart", exact=True).select_option(label=option(dot, "WC-11"))
    form.get_by_label("Leaves", exact=True).fill(f"{now:%Y-%m-%dT%H:%M}")
    form.get_by_label("Expected back").fill(f"{now + timedelta(hours=20):%Y-%m-%dT%H:%M}")
    form.get_by_label("Place of work").fill("Weir Street, stage 2")
    form.get_by_label("Order number").fill("PO-8808")
    form.get_by_label("How it leaves").select_option("road")
    form.get_by_label("Where it works").select_option("site")
    form.get_by_label("Whose pre-start book").select_option("ours")
    with dot.refused_with(422):
        send(form)
        dot.sees("WC-11 is promised to Callabar Quarries on H")
    expect(form.get_by_label("Place of work")).to_have_value("Weir Street, stage 2")
    expect(form.get_by_label("Order number")).to_have_value("PO-8808")
    expect(form.get_by_label("Leaves", exact=True)).to_have_value(f"{now:%Y-%m-%dT%H:%M}")
    dot.finds_nothing_wrong()
    form.get_by_label("Cart", exact=True).select_option(label=option(dot, CART))
    send(form)
    dot.sees(f"{CART} is promised on H")
    story.line_url = dot.page.url


def option(visitor: Visitor, fleet_number: str) -> str:
    """The words of a cart's entry in a list of carts."""
    found = visitor.page.locator("option").filter(has_text=re.compile(rf"^{fleet_number}\b"))
    return found.first.inner_text()


def the_certificate_issues_itself_and_is_corrected_once(story: Story) -> None:
    dot = story.visit("dot")
    first = sealed_number(dot, story.line_url, 1)
    dot.finds_nothing_wrong()
    dot.page.get_by_label("Why it is corrected").fill("The order number was wrong.")
    dot.press("Issue a correction")
    second = sealed_number(dot, story.line_url, 2)
    assert second != first
    story.numbers = [first, second]
    dot.sees(f"replaced by {second}")
    dot.follow(second)
    dot.sees(first)
    dot.finds_nothing_wrong()


def sealed_number(visitor: Visitor, line_url: str, count: int) -> str:
    """Waits for the worker's seal on the count-th paper of a hire and gives that paper's number."""
    links = visitor.page.get_by_role("link", name=re.compile("^Download "))
    visitor.awaits(line_url, lambda: links.count() >= count)
    return max(one.inner_text().removeprefix("Download ") for one in links.all())


def the_gate_refuses_until_the_gate_out_check(story: Story) -> None:
    ruby = story.visit("ruby", "tablet upright")
    ruby.open(f"{story.line_url}handover/")
    ruby.sees("What’s stopping it")
    ruby.sees("gate-out check")
    expect(ruby.page.get_by_role("button", name=f"Let {CART} leave")).to_have_count(0)
    ruby.finds_nothing_wrong()
    walk = Walk(ruby, CART, {**METERS, "engine-hours": "11400.7"})
    ruby.open(f"/check/#cart={story.cart_id}")
    walk.begin("gate_out")
    assert 12 <= walk.answer_all() <= 15
    ruby.finds_nothing_wrong()
    walk.sign_by_typing("Ruby Anselm")
    expect(ruby.page.get_by_role("heading", level=1)).not_to_have_text("Held")
    ruby.finds_nothing_wrong()


def the_customer_signs_at_the_gate(story: Story) -> None:
    ruby = story.visit("ruby", "tablet upright")
    ruby.open(f"{story.line_url}handover/")
    ruby.sees(story.numbers[-1])
    ruby.finds_nothing_wrong()
    form = ruby.page.locator("main form")
    form.get_by_label("Signed by the customer").check()
    form.get_by_label("Keys").fill("With Amir Doyle")
    form.get_by_label("Fuel, eighths").select_option("7")
    form.get_by_label("What goes with it").fill("Standpipe SP-31\nHydrant key")
    leave = ruby.page.get_by_role("button", name=f"Let {CART} leave")
    with ruby.refused_with(422):
        leave.click()
        ruby.sees("Not filled in yet.")
    expect(form.get_by_label("Keys")).to_have_value("With Amir Doyle")
    ruby.finds_nothing_wrong()
    form.get_by_label("Condition as it leaves").fill("Washed, tank empty, no new marks.")
    form.get_by_label("Type your full name").fill("Amir Doyle")
    ruby.draw_name(form.locator("[data-signature-pad]"))
    leave.click()
    ruby.sees(f"{CART} has left. The receipt is issued.")
    ruby.sees(f"on {story.numbers[-1]}")
    ruby.finds_nothing_wrong()
    receipt = ruby.page.get_by_role("row").filter(has_text="receipt").get_by_role("link").first
    receipt.click()
    ruby.sees(story.numbers[-1])
    ruby.sees("Amir Doyle")
    ruby.finds_nothing_wrong()


def the_customer_proves_the_paper(story: Story) -> None:
    dot = story.visit("dot")
    dot.open(f"{story.line_url}link/")
    dot.page.get_by_label("Who is it for").fill("Amir Doyle")
    send(dot.page.locator("main form"))
    story.link = dot.page.get_by_label("Customer link").input_value()
    dot.open(story.line_url)
    dot.sees_not("shown once")
    amir, (old, newest) = story.visit(None, "phone"), story.numbers
    amir.open(story.link)
    amir.sees("On hire since")
    amir.finds_nothing_wrong()
    file = downloaded(amir, newest)
    assert file.startswith(b"%PDF-")
    amir.page.get_by_role("link", name=re.compile("verify page")).click()
    amir.sees("Valid")
    amir.sees(hashlib.sha256(file).hexdigest())
    amir.finds_nothing_wrong()
    compare(amir, file)
    amir.sees("Genuine.")
    amir.finds_nothing_wrong()
    for at in (20, len(file) // 2, len(file) - 3):
        compare(amir, file[:at] + bytes([file[at] ^ 1]) + file[at + 1 :])
        amir.sees("Not the sealed file.")
    amir.finds_nothing_wrong()
    amir.open(story.link)
    replaced = downloaded(amir, old)
    amir.open(read_code(replaced))
    amir.sees(f"Replaced by {newest}")
    amir.finds_nothing_wrong()
    compare(amir, replaced)
    amir.sees("Genuine.")


def downloaded(visitor: Visitor, number: str) -> bytes:
    with visitor.page.expect_download() as coming:
        visitor.follow(f"Download {number}")
    return Path(coming.value.path()).read_bytes()


def compare(visitor: Visitor, file: bytes) -> None:
    pdf = {"name": "paper.pdf", "mimeType": "application/pdf", "buffer": file}
    visitor.page.get_by_label("The PDF you were given").set_input_files(pdf)  # type: ignore[arg-type]
    visitor.press("Compare")


def read_code(file: bytes) -> str:
    """The address in the square mark on a paper's first page."""
    with tempfile.TemporaryDirectory() as folder:
        paper = Path(folder) / "paper.pdf"
        paper.write_bytes(file)
        page = Path(folder) / "page"
        pdftoppm = shutil.which("pdftoppm")
        assert pdftoppm, "This journey needs pdftoppm, of poppler-utils."
        subprocess.run(
            [pdftoppm, "-png", "-r", "200", "-f", "1", "-l", "1", "-singlefile", paper, page], check=True
        )
        codes = zxingcpp.read_barcodes(Image.open(page.with_suffix(".png")))
    (address,) = {code.text for code in codes}
    return str(address)


def the_link_is_ended(story: Story) -> None:
    dot = story.visit("dot")
    dot.open(story.line_url)
    dot.press("End the link for Amir Doyle")
    dot.sees("opens nothing any more")
    amir = story.visit(None, "phone")
    with amir.refused_with(404):
        amir.open(story.link)
        amir.sees("This link opens nothing")
        amir.finds_nothing_wrong()
