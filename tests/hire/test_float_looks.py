"""A floated cart, looked at as it is loaded the evening before and again as it is unloaded on site."""

from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from hire.actions import float_looks as acts
from hire.actions.another_cart import send_another
from hire.actions.gate import StoppedAtGate, gate_readiness, hand_over, valid_certificate
from hire.actions.gate_given import PhotosWanted
from hire.models.agreements import Line
from hire.models.float_looks import FloatLook
from hire.watch_float import unloading_unlooked
from inspections.certificates.actions import paper_of
from inspections.certificates.models import Certificate
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, PhotoFactory
from tests.factories.hire import AgreementFactory, LineFactory, given, ready_line
from tests.pages import small_photo, text_of

pytestmark = pytest.mark.django_db
PAGE, ADELAIDE = Path(__file__).parents[2] / "docs" / "good-until.md", ZoneInfo("Australia/Adelaide")
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


def floated(hand, at, **changes):
    """Ready at `at`, its checks signed by then, to begin work the next morning."""
    return ready_line(
        hand=hand,
        at=at,
        cart=CartFactory(fleet_number="RG07", gear=("cannon", "pto", "hydrant_fill")),
        agreement=AgreementFactory(leaves_by="float"),
        **{"starts_at": at + 12 * HOUR} | changes,
    )


def seen(*photos, **changes):
    told = {"eyes": "ours", "name": "Isla Hand", "photos": photos, "happened_at": None}
    return acts.Eyes(**told | changes)


ALL = ("cannon", "pto", "lid", "tank")


def load(line, by, at, *, travel=ALL, **changes):
    look = changes.pop("seen", None) or seen(PhotoFactory(), **changes)
    return acts.look_at_loading(
        line=line,
        seen=look,
        float_words="Hauler 2, Kev Strand",
        tied_by_words="Kev Strand",
        travel=travel,
        by=by,
        at=at,
    )


def unload(line, by, at, *, new="", station="", grade="watch", **changes):
    look = changes.pop("seen", None) or seen(PhotoFactory(), eyes="driver", name="Kev Strand", **changes)
    return acts.look_at_unloading(
        line=line, seen=look, new_words=new, station=station, grade=grade, by=by, at=at
    )


def codes(line, at):
    return [one.code for one in gate_readiness(Line.objects.for_list().get(pk=line.pk), at=at).blockers]


def rows():
    section = PAGE.read_text(encoding="utf-8").split("## Loaded on a float\n")[1]
    found = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [tuple(cell.strip() for cell in row) for row in found[2:]]


def local(text):
    return None if text == "none" else datetime.fromisoformat(text).replace(tzinfo=ADELAIDE)


@pytest.mark.parametrize("row", rows(), ids=" ".join)
def test_the_worked_table(hand, row):
    signed, loaded, leaves = (local(cell) for cell in row[:3])
    line = LineFactory(agreement__leaves_by="float", starts_at=leaves)
    walk.sign(line.cart, "gate_out", by=hand, at=signed)
    Line.objects.filter(pk=line.pk).update(loaded_at=loaded)
    assert ("walk_round.gate_out" not in codes(line, leaves)) is (row[3] == "good")


class TestLoading:
    def test_loaded_the_evening_before_its_checks_are_judged_for_then(self, hand, at):
        line = floated(hand, at)
        morning = at + 11 * HOUR
        assert "walk_round.gate_out" in codes(line, morning)
        look = load(line, hand, at + HOUR)
        assert look.travel == ["cannon", "pto", "lid", "tank"]
        assert codes(line, morning) == []
        hand_over(line=line, given=given(), by=hand, at=morning)

    def test_a_cart_that_is_not_loaded_stays(self, hand, at):
        with pytest.raises(StoppedAtGate):
            hand_over(line=floated(hand, at), given=given(), by=hand, at=at + 11 * HOUR)

    @pytest.mark.parametrize(
        ("after", "counts"), [(timedelta(0), True), (24 * HOUR - MINUTE, True), (24 * HOUR, False)]
    )
    def test_it_counts_for_the_hours_of_the_yard(self, hand, at, after, counts):
        line = floated(hand, at, starts_at=at + 40 * HOUR)
        load(line, hand, at)
        assert ("walk_round.gate_out" not in codes(line, at + after)) is counts

    def test_a_check_signed_after_it_is_judged_for_the_gate(self, hand, at):
        """Taken off again and walked anew: that check ages as any other."""
        line = floated(hand, at, starts_at=at + 40 * HOUR)
        load(line, hand, at)
        walk.sign(line.cart, "gate_out", by=hand, at=at + 2 * HOUR)
        assert codes(line, at + 4 * HOUR - MINUTE) == []
        assert codes(line, at + 4 * HOUR) == ["walk_round.gate_out"]

    @pytest.mark.parametrize("leaves_by", ["road", "site"])
    def test_only_a_floated_cart_is_loaded(self, hand, at, leaves_by):
        line = ready_line(hand=hand, at=at, agreement=AgreementFactory(leaves_by=leaves_by))
        with pytest.raises(acts.NotFloated, match="does not wait for a float"):
            load(line, hand, at)

    def test_work_that_no_longer_goes_by_float_is_judged_as_ever(self, hand, at):
        line = floated(hand, at)
        load(line, hand, at)
        line.agreement.leaves_by = "road"
        line.agreement.save()
        assert "walk_round.gate_out" in codes(line, at + 11 * HOUR)

    def test_its_gate_out_check_is_good_at_loading(self, hand, at):
        line = floated(hand, at)
        with pytest.raises(
            acts.NotGoodToLoad, match=r"RG07 is not loaded yet: The gate-out check .* is too old"
        ):
            load(line, hand, at + HOUR + 30 * MINUTE)
        load(line, hand, at + HOUR + 29 * MINUTE)

    @pytest.mark.parametrize("left", ALL)
    def test_every_point_of_its_travel_state_is_looked_at(self, hand, at, left):
        with pytest.raises(acts.TravelState, match="Still to see to: "):
            load(floated(hand, at), hand, at, travel=[key for key in ALL if key != left])

    def test_it_is_photographed_tied_down(self, hand, at):
        with pytest.raises(PhotosWanted):
            load(floated(hand, at), hand, at, seen=seen())

    @pytest.mark.parametrize("happened", [MINUTE, -25 * HOUR])
    def test_it_was_then(self, hand, at, happened):
        with pytest.raises(acts.NotThen):
            load(floated(hand, at), hand, at, happened_at=at + happened)

    @pytest.mark.parametrize("role", [Role.FITTER])
    def test_who_writes_it_down(self, people, hand, at, role):
        with pytest.raises(NotAllowed):
            load(floated(hand, at), people[role], at)

    def test_another_cart_is_loaded_anew(self, people, hand, at):
        line = floated(hand, at)
        load(line, hand, at)
        line = Line.objects.for_list().get(pk=line.pk)
        send_another(
            line=line,
            cart=CartFactory(fleet_number="RG09"),
            instead_of=line.cart,
            why="Gearbox",
            by=people[Role.HIRE_DESK],
            at=at,
        )
        line.refresh_from_db()
        assert line.loaded_at is None


@pytest.fixture
def away(hand, at):
    line = floated(hand, at)
    load(line, hand, at + HOUR)
    hand_over(line=line, given=given(), by=hand, at=at + 10 * HOUR)
    line.refresh_from_db()
    return line


class TestUnloading:
    def test_the_cart_stands_on_site(self, hand, at, away):
        look = unload(away, hand, at + 13 * HOUR)
        cart = Cart.objects.get(pk=away.cart_id)
        assert (look.defect_id, cart.where_kind, cart.where_words) == (
            None,
            "site",
            away.agreement.place_of_work,
        )

    def test_what_is_new_is_a_defect_at_once(self, hand, at, away):
        look = unload(away, hand, at + 13 * HOUR, new="Mudflap torn off", station="rear", grade="by_date")
        [defect] = Defect.objects.filter(cart=away.cart)
        assert look.defect == defect
        assert (defect.title, defect.station, defect.grade) == (
            "New at unloading: Mudflap torn off",
            "rear",
            "by_date",
        )
        assert (defect.told_by_words, defect.photos.count()) == ("Kev Strand", 1)

    def test_the_receipt_shows_both_looks(self, hand, at, away):
        first = Certificate.objects.get(kind="receipt", subject_id=away.pk)
        whole, loaded = paper_of(first).condition
        assert loaded.words.startswith("Loaded on Hauler 2, Kev Strand on ")
        assert (
            "tied down by Kev Strand. Isla Hand (one of us) looked at it: cannon pinned, PTO out, lid shut, tank empty."
            in loaded.words
        )
        assert loaded.photos
        walk.sign(away.cart, "daily", by=hand, at=at + 26 * HOUR)
        unload(away, hand, at + 27 * HOUR, new="Mudflap torn off")
        anew = Certificate.objects.get(kind="receipt", subject_id=away.pk, replaced_by=None)
        assert (anew.replaces, anew.replaces_why) == (first, acts.WHY_ANEW)
        again, _, unloaded = paper_of(anew).condition
        assert again.words == whole.words
        assert unloaded.words.endswith("Kev Strand (the float’s driver) looked at it. New: Mudflap torn off.")
        assert paper_of(anew).handed_over_at == paper_of(first).handed_over_at
        # All else stays word for word, whatever was read and told since.
        assert (paper_of(anew).readings, paper_of(anew).tyres) == (
            paper_of(first).readings,
            paper_of(first).tyres,
        )
        assert paper_of(anew).defects == ()

    def test_once(self, hand, at, away):
        look = unload(away, hand, at + 13 * HOUR)
        with pytest.raises(acts.LookedAtAlready):
            unload(away, hand, at + 14 * HOUR)
        look.pk = None
        look._state.adding = True
        with pytest.raises(IntegrityError), transaction.atomic():
            FloatLook.objects.bulk_create(
                [
                    FloatLook(
                        **{
                            f.attname: getattr(look, f.attname)
                            for f in FloatLook._meta.fields
                            if f.attname != "id"
                        }
                    )
                ]
            )

    def test_it_has_left_by_then(self, hand, at):
        with pytest.raises(acts.NotFloated, match="is not out by float"):
            unload(floated(hand, at), hand, at)

    def test_not_before_it_left(self, hand, at, away):
        with pytest.raises(acts.NotThen):
            unload(away, hand, at + 13 * HOUR, happened_at=at + 10 * HOUR - MINUTE)

    def test_nobody_s_certificate_is_touched(self, hand, at, away):
        before = valid_certificate(away)
        unload(away, hand, at + 13 * HOUR)
        assert valid_certificate(away) == before


class TestAlert:
    def test_once_begun_until_somebody_has_looked(self, people, hand, at, away):
        begins = at + 12 * HOUR
        assert list(unloading_unlooked(begins - MINUTE)) == []
        [told] = unloading_unlooked(begins)
        assert told.what == f"RG07 at {away.agreement.place_of_work} is not looked at since it was unloaded."
        assert len(told.how_we_know) <= 240
        for _ in range(2):
            sweep(at=begins)
        alert = Alert.objects.get(rule="hire.float_unlooked")
        assert alert.cleared_at is None
        unload(away, hand, begins)
        sweep(at=begins + MINUTE)
        alert.refresh_from_db()
        assert alert.cleared_at is not None

    def test_after_a_week_nobody_is_asked(self, hand, at, away):
        left = away.handed_over_at
        assert list(unloading_unlooked(left + 7 * 24 * HOUR - MINUTE)) != []
        assert list(unloading_unlooked(left + 7 * 24 * HOUR)) == []

    def test_a_driven_cart_is_none_of_it(self, at):
        LineFactory(out_at=at - HOUR, starts_at=at - HOUR)
        assert list(unloading_unlooked(at)) == []

    def test_queries_do_not_grow(self, at, django_assert_num_queries):
        for _ in range(3):
            LineFactory(out_at=at - HOUR, starts_at=at - HOUR, agreement__leaves_by="float")
        with django_assert_num_queries(1):
            assert len(list(unloading_unlooked(at))) == 3


class TestPages:
    def test_loaded_and_unloaded_from_the_page_of_the_hire(self, client, people, hand):
        now = timezone.now()
        line = floated(hand, now)
        client.force_login(people[Role.YARD_HAND])
        detail, address = (
            reverse(f"hire:{name}", args=[line.pk]) for name in ("line_detail", "float_loading")
        )
        assert address in client.get(detail).content.decode()
        typed = {
            "eyes": "ours", "eyes_words": "Isla Hand", "float_words": "Hauler 2, Kev", "tied_by_words": "Kev",
            "travel": ["cannon", "pto"],
        }  # fmt: skip
        assert client.post(address, typed).status_code == 422
        refused = client.post(address, typed | {"photos": [small_photo()]})
        assert refused.status_code == 422
        assert "Still to see to: lid shut, tank empty." in text_of(refused)
        shown = client.post(address, typed | {"travel": list(ALL), "photos": [small_photo()]}, follow=True)
        assert "Loaded on Hauler 2, Kev on " in text_of(shown)
        line.refresh_from_db()
        hand_over(line=line, given=given(), by=hand, at=timezone.now())
        address = reverse("hire:float_unloading", args=[line.pk])
        assert address in client.get(detail).content.decode()
        typed = {
            "eyes": "customer",
            "eyes_words": "Jo Field",
            "new_words": "Mirror cracked",
            "grade": "watch",
        }
        shown = text_of(client.post(address, typed, follow=True))
        assert "Jo Field (the customer’s person) looked at it. New: Mirror cracked." in shown
        assert address not in shown

    def test_of_another_hire_nothing_is_said(self, client, people, at):
        client.force_login(people[Role.HIRE_DESK])
        page = client.get(reverse("hire:line_detail", args=[LineFactory().pk]))
        assert "On the float" not in text_of(page)
        assert DESK <= acts.AT_THE_GATE
