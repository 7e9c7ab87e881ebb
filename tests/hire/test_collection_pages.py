"""The driver's phone at the gate: what the link shows, the check it opens, whether the cart may leave, and leaving with it."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models.carts import Cart
from hire.actions import collecting
from hire.actions.gate import StoppedAtGate, issue_certificate
from hire.actions.gate_given import SIDES, LimitsNotAccepted, PhotosWanted
from hire.actions.links import make_link
from hire.models.agreements import Line
from hire.models.gate import Handover
from inspections.acceptance import accept_check
from inspections.certificates.actions import paper_of
from inspections.certificates.models import Certificate
from inspections.models import SiteWalker, WalkRound
from inspections.site_cookie import cookie_name
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.roles import Role
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, HoldFactory, LimitFactory, PhotoFactory
from tests.factories.hire import CustomerFactory, LineFactory, given
from tests.factories.site import as_driver, collection_of, driver_of
from tests.inspections.wire import key_of
from tests.pages import text_of
from tests.photo_samples import camera_jpeg

HOUR = timedelta(hours=1)


@pytest.fixture
def now():
    return timezone.now()


def coming(hand, now, number="RG07", customer="Merrin Civil"):
    walk.edition()
    cart = CartFactory(fleet_number=number, tyres=True, where_words="Bay 3", keys_words="Key safe, hook 7")
    line = LineFactory(cart=cart, starts_at=now - HOUR, agreement__customer=CustomerFactory(name=customer))
    walk.sign(cart, "pre_hire", by=hand, at=now - 3 * HOUR)
    issue_certificate(line=line, by=None, at=now - 2 * HOUR)
    return line


@pytest.fixture
def line(hand, now):
    return coming(hand, now)


@pytest.fixture
def given_link(line, desk, now):
    return collection_of(line, by=desk, at=now - HOUR)


@pytest.fixture
def driver(given_link, now):
    """Their phone, the check open on it."""
    return driver_of(given_link[0], at=now - HOUR / 2)


def signs(walker, now, **changed):
    return walk.sign(walker.cart, "gate_out", by=walker, at=now - HOUR / 4, **as_driver(walker) | changed)


def the_gate(line):
    return reverse("hire:collection", args=[line.pk])


def sides():
    return tuple((side, PhotoFactory()) for side in SIDES)


def leaving(**changed):
    return given(**{"taken_by_name": "Jo Field", "items_words": "", "sides": sides()} | changed)


def test_the_desk_gives_the_link_which_is_shown_once(client, line, desk):
    client.force_login(desk)
    page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "Give a driver the link" in page
    make = reverse("hire:collection_link_make", args=[line.pk])
    refused = client.post(make, {"name": "Jo Field", "drives_for": "float", "phone": "0400 550 118"})
    assert refused.status_code == 422
    assert "Type the float firm" in text_of(refused)
    told = {"name": "Jo Field", "drives_for": "customer", "phone": "0400 550 118"}
    answer = client.post(make, told).content.decode()
    address = answer.split('value="http://testserver')[1].split('"')[0]
    assert Client().get(address).status_code == 200
    page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "Jo Field, Merrin Civil, 0400 550 118" in page
    assert address.split("/")[2] not in page
    link = line.collection_links.get()
    client.post(reverse("hire:collection_link_end", args=[link.pk]))
    dead = Client().get(address)
    assert dead.status_code == 404
    assert settings.YARD_ON_CALL in text_of(dead)


def test_once_it_has_left_without_a_link_nothing_is_said_of_one(client, line, desk, now):
    client.force_login(desk)
    page = reverse("hire:line_detail", args=[line.pk])
    assert "Collected by a driver" in text_of(client.get(page))
    gone = LineFactory(starts_at=now - timedelta(days=2), out_at=now - timedelta(days=2))
    assert "Collected by a driver" not in text_of(client.get(reverse("hire:line_detail", args=[gone.pk])))


def test_the_links_page_says_which_cart_where_and_whom_to_ring(given_link, line):
    answer = Client().get(reverse("hire:collection_link", args=[given_link[1]]))
    page = text_of(answer)
    for words in ("RG07", line.cart.plate, "Bay 3", "Key safe, hook 7", "I am Jo Field", "Merrin Civil"):
        assert words in page
    html = answer.content.decode()
    assert html.index(f"tel:{settings.YARD_ON_CALL}") < html.index("Where it stands")
    assert (answer["Referrer-Policy"], answer["Cache-Control"]) == ("no-referrer", "no-store")
    assert cookie_name(line.pk) not in answer.cookies


def test_pressed_it_opens_the_gate_out_check_on_this_phone_and_again_keeps_it(given_link, line):
    phone = Client(enforce_csrf_checks=True)
    address = reverse("hire:collection_link", args=[given_link[1]])
    for _ in range(2):
        answer = phone.post(address)
        assert (answer.status_code, answer["Location"]) == (303, f"/check/?hire={line.pk}")
    walker = SiteWalker.objects.get()
    assert (walker.name, walker.opened_how, walker.given_by) == ("Jo Field", "gate", given_link[0].made_by)
    told = phone.get("/sync/reference", headers={"Slake-Hire": str(line.pk)}).json()
    [cart] = told["carts"]
    assert (cart["fleet_number"], set(cart["sheets"]), cart["purposes_due"]) == (
        "RG07",
        {"gate_out"},
        ["gate_out"],
    )
    assert cart["where"] == "Bay 3. Keys: Key safe, hook 7."
    assert told["site"]["gate_page"] == the_gate(line)
    assert told["site"]["customer"] == "Merrin Civil"
    assert cart["right_to_go"]["state"] == "watch"
    assert cart["right_to_go"]["sentence"].startswith("Walk the check")
    assert 12 <= len(cart["sheets"]["gate_out"]["items"]) <= 15


def test_it_is_opened_so_many_times_and_then_one_waits(given_link):
    address = reverse("hire:collection_link", args=[given_link[1]])
    statuses = [Client().post(address).status_code for _ in range(8)]
    assert statuses[0] == 303
    assert statuses[-1] == 429


def test_the_check_goes_over_the_wire_and_its_answer_says_that_it_stands(driver, line, now):
    walker, phone = driver
    body = walk.manifest(line.cart, "gate_out", at=now, **as_driver(walker))
    told = phone.put(body).json()
    assert (told["name_confirmed"], told["page"]) == (True, "")
    key, place = key_of(line.cart, "gate_out", answer="sound")
    wrong = {(key, place): {"answer": "wrong", "grade": "do_not_use", "words": "Cracked"}}
    body = walk.manifest(line.cart, "gate_out", at=now, answers=wrong, **as_driver(walker))
    told = phone.put(body).json()
    assert (told["name_confirmed"], told["outcome"]) == (False, "held")
    daily = walk.manifest(line.cart, "daily", at=now, **as_driver(walker))
    assert phone.put(daily).status_code == 422


def test_over_the_phone_shows_no_cart_and_still_sends(driver, line, desk, now, hand):
    walker, phone = driver
    Line.objects.filter(pk=line.pk).update(handed_over_at=now)
    told = phone.get("/sync/reference").json()
    assert (told["site"]["is_over"], told["carts"]) == (True, [])
    assert phone.client.get(the_gate(line)).status_code == 404
    signed = walk.manifest(line.cart, "gate_out", at=now, **as_driver(walker))
    assert phone.put(signed).status_code == 201
    collecting.end_collection_link(link=line.collection_links.get(), by=desk, at=now)
    assert phone.get("/sync/reference").status_code == 401


def test_the_gate_opens_to_that_phone_alone(driver, line, hand, desk, now):
    _, phone = driver
    assert phone.client.get(the_gate(line)).status_code == 200
    assert Client().get(the_gate(line)).status_code == 404
    other = coming(hand, now, "RG42", "Rival Earth")
    theirs = driver_of(collection_of(other, by=desk, at=now)[0], at=now)[1]
    assert theirs.client.get(the_gate(line)).status_code == 404
    theirs.client.cookies[cookie_name(line.pk)] = theirs.client.cookies[cookie_name(other.pk)].value
    assert theirs.client.get(the_gate(line)).status_code == 404
    assert "Rival" not in text_of(phone.client.get(the_gate(line)))


def test_it_says_do_not_leave_with_the_number_until_the_gate_would_let_it(driver, line):
    walker, phone = driver
    page = phone.client.get(the_gate(line))
    assert "Do not leave." in text_of(page)
    assert "Walk the gate-out check" in text_of(page)
    assert f'href="tel:{settings.YARD_ON_CALL}"' in page.content.decode()
    signs(walker, timezone.now())
    assert "It may leave," in text_of(phone.client.get(the_gate(line)))
    HoldFactory(cart=line.cart, reason="Gearbox noise")
    page = text_of(phone.client.get(the_gate(line)))
    assert "Do not leave." in page
    assert "Gearbox" not in page
    assert "I am leaving now" not in page


def _form(**changed):
    return {
        "fuel_eighths": "7", "condition_words": "None", "signed_name": "Jo Field", "strokes": "",
        **{f"side_{side}": _picture(number) for number, side in enumerate(SIDES, start=1)},
    } | changed  # fmt: skip


def _picture(number):
    return SimpleUploadedFile(f"{number}.jpg", camera_jpeg(seed=number), content_type="image/jpeg")


def test_the_customers_driver_takes_it_over_and_leaves(driver, line, given_link, desk):
    walker, _ = driver
    now = timezone.now()
    signed = signs(walker, now)
    done = collecting.leave_with(link=given_link[0], given=leaving(), at=now)
    line.refresh_from_db()
    assert line.handed_over_at == done.at == now
    assert (done.by, done.mode, done.taken_by_name) == (None, "signed", "Jo Field")
    assert done.by_words == f"Jo Field, driver of Merrin Civil, on a phone link given by {desk.full_name}"
    assert {photo.station for photo in done.photos.all()} == set(SIDES)
    receipt = paper_of(Certificate.objects.get(kind="receipt"))
    [walked] = receipt.signatures
    assert (walked.name, walked.role) == ("Jo Field", "Driver of Merrin Civil")
    assert walked.how == f"signed on their own phone, on a link given by {desk.full_name}"
    assert receipt.method.walk_round_id == str(signed.pk)
    assert receipt.received.how == "signed on their own phone"
    assert f"Handed over by {done.by_words}." in receipt.notes
    assert receipt.issued_by.role == "Issued as the driver left with it"
    entry = Entry.objects.filter(event="hire.line.handed_over").first()
    assert (entry.by, entry.by_words) == (None, done.by_words[:120])
    assert Cart.objects.get(pk=line.cart_id).keys_words == "With the driver"
    assert list(faults_in_journal()) == []
    with pytest.raises(collecting.LinkOver):
        collecting.leave_with(link=given_link[0], given=leaving(), at=now)


def test_another_firms_driver_leaves_with_nobody_present_and_never_with_limits(line, desk, now):
    link, _ = collection_of(line, by=desk, at=now - HOUR, drives_for="float", firm="Low Loaders")
    walker, _ = driver_of(link, at=now - HOUR / 2)
    signs(walker, now)
    limit = LimitFactory(cart=line.cart)
    with pytest.raises(LimitsNotAccepted, match="which Merrin Civil has to accept first"):
        collecting.leave_with(link=link, given=leaving(limits_accepted=True), at=now)
    limit.lifted_at = now
    limit.save()
    done = collecting.leave_with(link=link, given=leaving(), at=now)
    assert (done.mode, done.taken_by_name) == ("left", "")
    left = paper_of(Certificate.objects.get(kind="receipt")).left
    assert (left.by.name, left.by.role.split(",")[0]) == ("Jo Field", "Driver of Low Loaders")


def test_the_customers_driver_accepts_the_limits(driver, line, given_link):
    now = timezone.now()
    signs(driver[0], now)
    LimitFactory(cart=line.cart)
    with pytest.raises(LimitsNotAccepted):
        collecting.leave_with(link=given_link[0], given=leaving(), at=now)
    done = collecting.leave_with(link=given_link[0], given=leaving(limits_accepted=True), at=now)
    assert done.limits_accepted


@pytest.mark.parametrize(
    ("changed", "refusal", "says"),
    [
        ({"sides": sides}, None, ""),
        ({"sides": ()}, PhotosWanted, "Photograph RG07 from each side"),
        ({"taken_by_name": "Sam Reef"}, collecting.NotTheirName, "This link is Jo Field’s"),
    ],
)
def test_what_leaving_wants(driver, given_link, changed, refusal, says):
    now = timezone.now()
    signs(driver[0], now)
    changed = {key: value() if callable(value) else value for key, value in changed.items()}
    if refusal is None:
        assert collecting.leave_with(link=given_link[0], given=leaving(**changed), at=now)
        return
    with pytest.raises(refusal, match=says):
        collecting.leave_with(link=given_link[0], given=leaving(**changed), at=now)


def test_what_stops_it_at_the_gate_stops_the_driver(driver, line, given_link, people):
    now = timezone.now()
    with pytest.raises(StoppedAtGate, match="No gate-out check"):
        collecting.leave_with(link=given_link[0], given=leaving(), at=now)
    key, place = key_of(line.cart, "gate_out", answer="sound")
    signed = signs(
        driver[0], now, answers={(key, place): {"answer": "wrong", "grade": "watch", "words": "Loose"}}
    )
    with pytest.raises(StoppedAtGate, match="A manager accepts it"):
        collecting.leave_with(link=given_link[0], given=leaving(), at=now)
    accept_check(walk=signed, by=people[Role.WORKSHOP_MANAGER], at=now)
    HoldFactory(cart=line.cart)
    with pytest.raises(StoppedAtGate):
        collecting.leave_with(link=given_link[0], given=leaving(), at=now)


def test_the_page_leaves_with_it_and_keeps_photos_of_a_form_at_fault(driver, line):
    walker, phone = driver
    signs(walker, timezone.now())
    answer = phone.client.post(the_gate(line), _form(signed_name="Sam Reef"))
    assert answer.status_code == 422
    assert "This link is Jo Field’s" in text_of(answer)
    assert not Handover.objects.exists()
    kept = {f"kept_{key}": str(photo.pk) for key, photo in answer.context["form"].side_photos()}
    assert len(kept) == len(SIDES)
    typed = {key: value for key, value in _form().items() if not key.startswith("side_")}
    done = phone.client.post(the_gate(line), typed | kept)
    assert done.status_code == 200
    assert "You left with it" in text_of(done)
    assert Handover.objects.get().photos.count() == len(SIDES)
    entry = Entry.objects.filter(event="fleet.photo.taken_in").last()
    assert (entry.by, entry.by_words) == (None, "Jo Field, Merrin Civil")


def test_whoever_collected_it_opens_the_pre_start_on_the_same_phone(driver, line, desk, now):
    _, phone = driver
    Line.objects.filter(pk=line.pk).update(handed_over_at=now)
    token = make_link(line=line, for_words="Jo Field", rights="operator", by=desk, at=now)[1]
    phone.client.post(reverse("hire:link_open", args=[token]), {"name": "Jo Field"})
    told = phone.get("/sync/reference").json()
    assert [set(cart["sheets"]) for cart in told["carts"]] == [{"daily"}]


def test_each_side_that_is_not_photographed_is_asked_for(driver, line):
    walker, phone = driver
    signs(walker, timezone.now())
    answer = phone.client.post(the_gate(line), _form(side_rear=""))
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["side_rear"]
    assert "(optional)" not in text_of(answer)


def test_a_form_of_another_site_is_refused(driver, line):
    walker, phone = driver
    signs(walker, timezone.now())
    strict = Client(enforce_csrf_checks=True)
    strict.cookies[cookie_name(line.pk)] = phone.client.cookies[cookie_name(line.pk)].value
    assert strict.post(the_gate(line), {}).status_code == 403


def test_the_walk_rounds_page_says_how_it_stands(client, driver, desk, people):
    walker, _ = driver
    signed = signs(walker, timezone.now())
    client.force_login(people[Role.WORKSHOP_MANAGER])
    page = text_of(client.get(reverse("inspections:walk_round_detail", args=[signed.pk])))
    assert "Accept this check" not in page
    assert f"{desk.full_name} gave them the link" in page
    assert WalkRound.objects.to_accept().count() == 0


def test_the_database_keeps_no_handover_of_nobody(driver, given_link):
    now = timezone.now()
    signs(driver[0], now)
    done = collecting.leave_with(link=given_link[0], given=leaving(), at=now)
    for changed in ({"by_words": ""}, {"left_although": "Held", "although_words": "Said so"}):
        done.pk, done._state.adding = uuid4(), True
        row = Handover(
            **{f.attname: getattr(done, f.attname) for f in Handover._meta.concrete_fields} | changed
        )
        with pytest.raises(IntegrityError, match="hire_handover_by_somebody"), transaction.atomic():
            Handover.objects.bulk_create([row])
