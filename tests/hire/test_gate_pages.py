"""The page of the handover: it lets a cart go, keeps what was typed when it refuses, and takes photos in."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from hire.actions.gate import (
    issue_certificate,
)
from hire.models.gate import Handover, HandoverPhoto
from inspections.certificates.actions import paper_of
from inspections.certificates.models import Certificate
from tests import photo_samples
from tests.factories import inspections as walk
from tests.factories.fleet import (
    CartFactory,
    HoldFactory,
)
from tests.factories.hire import LineFactory
from tests.pages import small_photo

TYPED = {
    "mode": "signed", "place_words": "Home yard", "keys_words": "With the driver", "fuel_eighths": "7",
    "condition_words": "Clean, no marks", "items_words": "Standpipe SP-14", "signed_name": "Aoife Merrin", "strokes": "[]",
}  # fmt: skip


@pytest.fixture
def ready_now(hand):
    """Ready at this moment of the real clock, which the pages read."""
    now = timezone.now()
    line = LineFactory(starts_at=now, cart=CartFactory(tyres=True))
    walk.sign(line.cart, "pre_hire", by=hand, at=now - timedelta(minutes=3))
    walk.sign(line.cart, "gate_out", by=hand, at=now - timedelta(seconds=2))
    issue_certificate(line=line, by=None, at=now)
    return line


def test_the_page_hands_a_cart_over(client, desk, ready_now):
    client.force_login(desk)
    address = reverse("hire:handover", args=[ready_now.pk])
    assert client.get(address).status_code == 200
    answer = client.post(address, TYPED, follow=True)
    assert "has left. The receipt is issued." in answer.content.decode()
    answer = client.post(address, TYPED)
    assert answer.status_code == 422
    assert "was handed over on" in answer.content.decode()


@pytest.mark.parametrize(
    "wrong",
    [
        {"fuel_eighths": ""},
        {"fuel_eighths": "9"},
        {"mode": "posted"},
        {"keys_words": ""},
        {"signed_name": ""},
        {"strokes": "<svg onload=alert(1)>"},
        {"strokes": "[[[1,2]]]"},
        {"condition_words": "x\x00"},
        {"mode": "left"},
    ],
)
def test_the_page_keeps_what_was_typed_when_it_refuses(client, desk, ready_now, wrong):
    client.force_login(desk)
    answer = client.post(reverse("hire:handover", args=[ready_now.pk]), TYPED | wrong)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Standpipe SP-14" in page
    assert "<svg onload" not in page
    assert not Handover.objects.exists()


def test_photos_come_with_the_form_and_a_renamed_file_is_told(client, desk, ready_now):
    client.force_login(desk)
    address = reverse("hire:handover", args=[ready_now.pk])
    renamed = SimpleUploadedFile("cart.jpg", b"%PDF-1.7 not a photo", content_type="image/jpeg")
    assert client.post(address, TYPED | {"mode": "left", "photos": [renamed]}).status_code == 422
    sound = SimpleUploadedFile(
        "cart.jpg", photo_samples.camera_jpeg(width=600, height=800), content_type="image/jpeg"
    )
    assert client.post(address, TYPED | {"mode": "left", "photos": [sound]}).status_code == 302
    assert HandoverPhoto.objects.count() == 1


def test_the_page_of_a_stopped_cart_says_what_stops_it(client, desk, ready_now):
    HoldFactory(cart=ready_now.cart, reason="Gearbox noise")
    client.force_login(desk)
    page = client.get(reverse("hire:handover", args=[ready_now.pk])).content.decode()
    assert "Gearbox noise" in page
    answer = client.post(reverse("hire:handover", args=[ready_now.pk]), TYPED)
    assert answer.status_code == 422
    assert not Handover.objects.exists()


def test_photos_outlive_a_fault_elsewhere_in_the_form(client, desk, ready_now):
    client.force_login(desk)
    address = reverse("hire:handover", args=[ready_now.pk])
    left = TYPED | {"mode": "left", "signed_name": "", "condition_words": ""}
    picture = SimpleUploadedFile("left.jpg", photo_samples.camera_jpeg(width=600, height=800), "image/jpeg")
    refused = client.post(address, left | {"photos": [picture]})
    assert refused.status_code == 422
    kept = refused.context["form"]["kept_photos"].value()
    assert len(kept) == 1
    # The same form, mended, with no file sent again.
    mended = left | {"condition_words": "Clean, no marks", "kept_photos": kept}
    assert client.post(address, mended).status_code == 302
    assert [str(row.photo_id) for row in HandoverPhoto.objects.all()] == kept


def test_a_picture_of_each_side_is_kept_by_its_side_through_a_fault(client, desk, ready_now):
    client.force_login(desk)
    address = reverse("hire:handover", args=[ready_now.pk])
    left = TYPED | {"mode": "left", "signed_name": ""}
    renamed = SimpleUploadedFile("front.jpg", b"%PDF-1.7 not a photo", content_type="image/jpeg")
    refused = client.post(address, left | {"side_rear": small_photo(), "side_front": renamed})
    assert refused.status_code == 422
    form = refused.context["form"]
    assert form["kept_front"].value() is None
    assert form.errors["side_front"]
    assert "Rear: kept." in refused.content.decode()
    mended = left | {"kept_rear": form["kept_rear"].value(), "side_front": small_photo(colour="blue")}
    assert client.post(address, mended).status_code == 302
    assert sorted(HandoverPhoto.objects.values_list("station", flat=True)) == ["front", "rear"]
    receipt = Certificate.objects.get(kind="receipt", subject_id=ready_now.pk)
    assert len(paper_of(receipt).photos) == 2
    page = client.get(reverse("hire:out_and_back", args=[ready_now.pk])).content.decode()
    assert "Pictures at the handover" not in page
