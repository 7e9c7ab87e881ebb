"""Signing: the statement first, then a name, drawn or typed alike; after it nothing can be changed."""

import pytest
from playwright.sync_api import expect

from tests.capture.standin import Yard
from tests.capture.tablet import Tablet

pytestmark = pytest.mark.journey


def test_the_statement_is_read_before_the_name_is_given(tablet: Tablet, yard: Yard) -> None:
    tablet.walk_gate_out()
    tablet.tap("These are right: go and sign")
    tablet.see(yard.reference["purposes"]["gate_out"]["statement"])
    expect(tablet.page.locator('[aria-pressed="true"]')).to_have_count(0)
    tablet.tap("Sign and send")
    tablet.see("Choose how to sign: draw or type.")
    tablet.tap("Type my name")
    tablet.tap("Sign and send")
    tablet.see("Type your name.")
    tablet.tap("Draw my name")
    tablet.tap("Sign and send")
    tablet.see("Draw your name in the box.")
    assert yard.puts == []


def draw(tablet: Tablet, *points: tuple[int, int]) -> None:
    box = tablet.page.locator(".pad").bounding_box()
    assert box
    mouse = tablet.page.mouse
    first, *rest = points
    mouse.move(box["x"] + first[0], box["y"] + first[1])
    mouse.down()
    for x, y in rest:
        mouse.move(box["x"] + x, box["y"] + y)
    mouse.up()


def test_a_drawn_name_travels_as_its_strokes(tablet: Tablet, yard: Yard) -> None:
    tablet.walk_gate_out()
    tablet.tap("These are right: go and sign")
    tablet.tap("Draw my name")
    draw(tablet, (30, 30), (60, 60))
    tablet.tap("Rub it out")
    draw(tablet, (40, 40), (80, 70), (120, 40))
    draw(tablet, (90, 30), (90, 31), (90, 60))
    tablet.tap("Sign and send")
    tablet.at("Right to go")
    signature = yard.record()["signature"]
    assert (signature["kind"], signature["name"]) == ("drawn", "Ira Pell")
    points = [[point[:2] for point in stroke] for stroke in signature["strokes"]]
    # Less the border of the box, and without the point a step of one pixel away.
    assert [len(stroke) for stroke in points] == [3, 2]
    assert points[0][2][0] - points[0][0][0] == 80
    times = [point[2] for stroke in signature["strokes"] for point in stroke]
    assert times == sorted(times)
    assert times[0] == 0


def test_a_dot_is_no_signature(tablet: Tablet) -> None:
    tablet.walk_gate_out()
    tablet.tap("These are right: go and sign")
    tablet.tap("Draw my name")
    draw(tablet, (40, 40))
    tablet.tap("Sign and send")
    tablet.see("Draw your name in the box.")


def test_a_signed_record_can_no_longer_be_answered_differently(tablet: Tablet, yard: Yard) -> None:
    tablet.walk_gate_out()
    yard.cut = True
    tablet.sign()
    tablet.at("Not sent yet")
    tablet.page.go_back()
    tablet.at("Not sent yet")
    walk = tablet.run("new URLSearchParams(location.hash.slice(1)).get('walk')")
    tablet.run("(walk) => { location.hash = `walk=${walk}&at=1`; }", walk)
    tablet.at("Not sent yet")
