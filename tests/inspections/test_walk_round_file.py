"""The list of walk-rounds as a file."""

import csv
import io

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory

pytestmark = pytest.mark.django_db


def test_the_walk_rounds_of_the_list_are_saved_with_their_hash(client):
    hand, cart = StaffFactory(role="yard_hand", full_name="Wes Tonkin"), CartFactory(fleet_number="A1")
    signed = walk.sign(cart, "daily", by=hand, at=timezone.now())
    client.force_login(hand)
    page = reverse("inspections:walk_round_list")
    file = client.get(page, {"as": "csv"}).content.decode("utf-8-sig")
    [row] = csv.DictReader(io.StringIO(file, newline=""))
    assert (row["Cart"], row["SHA-256"], row["Sheet issue"]) == ("A1", signed.manifest_sha256, "1")
    assert client.get(page, {"as": "csv", "purpose": "pre_hire"}).content.decode("utf-8-sig").count("\n") == 1
