"""The lap drawing, photos and QR plates over the web: who gets them, as what, and never a file that was altered."""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from fleet.actions.photos import keep_photo
from fleet.drawing import lap_svg
from fleet.lap.stations import STATION_KEYS
from fleet.models.carts import Cart
from fleet.photos import store
from fleet.plate_code import plate_address, qr_svg
from people.roles import WALKERS, Role
from tests.factories.fleet import CartFactory, DefectFactory, PhotoFactory
from tests.pages import text_of
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(people, sign_in):
    return sign_in(people[Role.HIRE_DESK])


def test_the_lap_is_the_carts_own_with_its_open_defects(browser):
    cart = CartFactory(layout="8x4", gear=("cannon", "rops"))
    DefectFactory(cart=cart, station="tank_top", place="", gear="cannon", grade="by_date")
    DefectFactory(cart=cart, state="no_fault_found")
    answer = browser.get(reverse("fleet:lap", args=[cart.pk]))
    drawing = answer.content.decode()
    assert answer["Content-Type"] == "image/svg+xml"
    assert set(re.findall(r'data-gear="(\w+)"', drawing)) == {"rops", "cannon"}
    assert len(re.findall(r'data-wheel="\w+"', drawing)) == 12
    assert set(re.findall(r'data-station="(\w+)"', drawing)) == set(STATION_KEYS)
    assert re.findall(r'data-place="(\w*)"', drawing) == ["cannon"]
    assert "style=" not in drawing


def test_gear_that_came_off_is_not_drawn(browser):
    cart = CartFactory(gear=("cannon",))
    cart.fitments.update(removed_on="2026-11-01")
    assert "data-gear" not in browser.get(reverse("fleet:lap", args=[cart.pk])).content.decode()


def test_a_cart_without_axles_has_no_drawing(browser):
    cart = CartFactory()
    cart.axle_groups.all().delete()
    assert browser.get(reverse("fleet:lap", args=[cart.pk])).status_code == 404
    assert lap_svg(Cart.objects.for_drawing().get(pk=cart.pk)) == ""


def test_the_drawing_takes_five_queries(django_assert_num_queries):
    cart = CartFactory()
    with django_assert_num_queries(5):  # the cart, its axle groups, gear, wheel positions, open defects
        lap_svg(Cart.objects.for_drawing().get(pk=cart.pk))


def test_a_photo_is_served_as_kept_and_in_its_print_size(browser, people):
    photo = keep_photo(raw=camera_jpeg(), expected_sha256=None, by=people[Role.YARD_HAND], at=timezone.now())
    url = reverse("fleet:photo", args=[photo.pk])
    assert url == f"/photos/{photo.pk}.jpg"
    whole, small = browser.get(url), browser.get(url, {"size": "print"})
    assert whole.content == store.open(photo.stored_name).getvalue()
    assert small.content == store.open(photo.print_name).getvalue() != whole.content
    assert whole["Content-Type"] == "image/jpeg"
    assert whole["Content-Disposition"] == f'inline; filename="photo-{photo.original_sha256[:12]}.jpg"'
    assert whole["X-Content-Type-Options"] == "nosniff"
    assert whole["Cache-Control"] == "no-store"
    browser.logout()
    assert browser.get(url).status_code == 302


def test_a_photo_whose_file_is_missing_or_altered_is_not_shown(browser, people):
    assert browser.get(reverse("fleet:photo", args=[PhotoFactory().pk])).status_code == 404
    photo = keep_photo(raw=camera_jpeg(), expected_sha256=None, by=people[Role.YARD_HAND], at=timezone.now())
    place = Path(settings.FILES_DIR) / photo.stored_name
    kept = place.read_bytes()
    place.write_bytes(kept[:-1] + b"\0")
    try:
        assert browser.get(reverse("fleet:photo", args=[photo.pk])).status_code == 404
    finally:
        place.write_bytes(kept)


@pytest.mark.parametrize("role", sorted(Role))
def test_a_plate_opens_the_walk_for_who_walks_and_the_page_for_who_does_not(people, sign_in, role):
    cart = CartFactory()
    answer = sign_in(people[role]).get(reverse("fleet:plate", args=[cart.plate_code]))
    walk = f"{reverse('inspections:capture')}#cart={cart.pk}"
    assert answer.url == (walk if role in WALKERS else reverse("fleet:cart_detail", args=[cart.pk]))


def test_a_plate_shows_nothing_to_who_is_not_signed_in(browser):
    cart = CartFactory()
    browser.logout()
    url = reverse("fleet:plate", args=[cart.plate_code])
    real, unknown = browser.get(url), browser.get(reverse("fleet:plate", args=["nosuchplate"]))
    assert (real.status_code, unknown.status_code) == (200, 200)
    said, of_none = (re.sub(r'token" value="\w+"', "", text_of(one)) for one in (real, unknown))
    assert said.replace(cart.plate_code, "CODE") == of_none.replace("nosuchplate", "CODE")
    assert cart.fleet_number not in said


def test_an_unknown_plate_is_not_there(browser):
    assert browser.get(reverse("fleet:plate", args=["nosuchplate"])).status_code == 404


def test_the_plate_to_print_carries_number_code_and_address(browser):
    cart = CartFactory(fleet_number="WC-47")
    body = browser.get(reverse("fleet:plate_print", args=[cart.pk])).content.decode()
    address = f"{settings.PUBLIC_ADDRESS}/plate/{cart.plate_code}/"
    assert plate_address(f"/plate/{cart.plate_code}/") == address
    assert 'class="qr-plate-number">WC-47<' in body
    assert address in body
    assert qr_svg(address, label="QR code that opens cart WC-47") in body


def test_the_code_is_one_labelled_drawing_without_styles_and_with_its_quiet_zone():
    drawing = qr_svg("http://127.0.0.1/plate/x/", label="QR <code>")
    assert drawing.startswith('<svg role="img" ')
    assert "<title>QR &lt;code&gt;</title>" in drawing
    assert "style=" not in drawing
    side = int(re.search(r'viewBox="0 0 (\d+) ', drawing)[1])
    # A code of version n has 17 + 4n modules a side; four empty ones stand on each side of it.
    assert (side - 8 - 17) % 4 == 0
    assert 'd="M4 4.5' in drawing
