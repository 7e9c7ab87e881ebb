"""The wire on a customer's phone: one hire, its one cart, and nothing of anybody else's."""

import uuid
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from fleet.models.defects import Defect
from fleet.models.photos import Photo, PhotoPart
from hire.models.agreements import Line
from inspections.models import SiteWalker, WalkRound
from inspections.site_walkers import end_site_walkers, revoke_site_walkers
from people.canonical import sha256_hex
from people.journal.models import Entry
from people.roles import Role
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, DefectFactory, HoldFactory, LimitFactory
from tests.factories.hire import LineFactory
from tests.factories.site import Phone, open_phone, out_line, phone_of
from tests.inspections.wire import key_of
from tests.photo_samples import plain

DAY = timedelta(days=1)


@pytest.fixture
def line(cart, now):
    return out_line(at=now, cart=cart)


@pytest.fixture
def other(now):
    return out_line(at=now, cart=CartFactory(fleet_number="RG99", tyres=True))


@pytest.fixture
def phone(line, now):
    return phone_of(line, at=now)


def signed_on(line, now, **changed):
    walker = SiteWalker.objects.filter(subject_id=line.pk).first()
    author = {"version": 2, "author": {"id": str(walker.pk), "name": walker.name}}
    return walk.manifest(line.cart, at=now, **author | changed)


def test_hello_says_who_and_gives_the_cookie_again(phone, line):
    answer = phone.get("/sync/hello")
    walker = SiteWalker.objects.get()
    told = answer.json()
    assert told["person"] == {"id": str(walker.pk), "name": "Jo Field", "role": "site"}
    assert (told["may_walk"], told["tablet"]) == (True, None)
    assert told["csrf"]
    cookie = answer.cookies[f"slake-hire-{line.pk.hex}"]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", "/")
    assert int(cookie["max-age"]) > 30 * 86_400


def test_a_staff_session_counts_for_nothing_on_a_hire(line, people, now):
    client = Client()
    client.force_login(people[Role.FLEET_MANAGER])
    headers = {"Slake-Hire": str(line.pk)}
    assert client.get("/sync/hello", headers=headers).json()["person"] is None
    for path in ("/sync/reference", "/sync/held", f"/sync/photo/{'a' * 64}"):
        assert client.get(path, headers=headers).status_code == 401
    assert client.get("/sync/reference").status_code == 200


def test_a_phones_cookie_counts_for_nothing_without_its_header(phone):
    assert phone.client.get("/sync/hello").json()["person"] is None
    assert phone.client.get("/sync/reference").status_code == 401


def calls(line):
    return [
        lambda phone: phone.get("/sync/reference"),
        lambda phone: phone.get(f"/sync/held?id={uuid.uuid4()}"),
        lambda phone: phone.get(f"/sync/lap/{line.cart_id}.svg"),
        lambda phone: phone.get(f"/sync/photo/{'a' * 64}"),
        lambda phone: phone.put_bytes(f"/sync/photo/{'a' * 64}", b"x"),
        lambda phone: phone.put({"id": str(uuid.uuid4())}),
    ]


@pytest.mark.parametrize("call", range(6))
@pytest.mark.parametrize("why", ["another hire", "no hire", "revoked", "expired", "no cookie", "made up"])
def test_who_may_not_is_turned_away_at_every_address(line, other, people, call, why):
    now = timezone.now()
    _, token = open_phone(line, at=now)
    phone = Phone(line, token)
    if why == "another hire":
        # The cookie of one hire under the name of another.
        phone = Phone(other, token)
    elif why == "no hire":
        phone.headers = {"Slake-Hire": "of course"}
    elif why == "revoked":
        subject = ("hire_line", line.pk)
        revoke_site_walkers(subject=subject, by=people[Role.HIRE_DESK], at=now)
    elif why == "expired":
        SiteWalker.objects.update(opened_at=now - 2 * DAY, expires_at=now - DAY)
    elif why == "no cookie":
        phone.client.cookies.clear()
    else:
        phone = Phone(line, "made-up")
    answer = calls(line)[call](phone)
    assert (answer.status_code, answer["Content-Type"]) == (401, "application/problem+json")
    assert "Nothing on this phone is lost." in answer.json()["detail"]
    assert phone.get("/sync/hello").json()["person"] is None


def test_the_reference_is_one_cart_without_a_name_of_the_yard(phone, line, other, people, settings):
    wes, teo = people[Role.YARD_HAND], people[Role.FITTER]
    DefectFactory(
        cart=line.cart, title="Mud flap torn", grade="watch", state="in_repair", assigned_to=teo, told_by=wes
    )
    told = phone.get("/sync/reference").json()
    assert [cart["fleet_number"] for cart in told["carts"]] == ["RG07"]
    assert told["site"] == {
        "yard": settings.YARD_NAME,
        "on_call": settings.YARD_ON_CALL,
        "customer": line.agreement.customer.name,
        "is_over": False,
        "gate_page": "",
    }
    assert told["people"] == []
    [cart] = told["carts"]
    assert set(cart["sheets"]) == {"daily"}
    assert cart["purposes_due"] == ["daily"]
    assert cart["lap"] == f"/sync/lap/{line.cart_id}.svg"
    [defect] = cart["defects"]
    assert (defect["title"], defect["state_words"], defect["second_look"]) == (
        "Mud flap torn",
        "on the job",
        "",
    )
    text = phone.get("/sync/reference").content.decode()
    for person in people.values():
        assert person.full_name not in text
    assert phone.get(cart["lap"])["Content-Type"] == "image/svg+xml"


def test_staff_get_the_same_shape_of_cart(phone, tablet, line):
    [site_cart] = phone.get("/sync/reference").json()["carts"]
    staff = tablet.get("/sync/reference").json()
    assert set(site_cart) == set(staff["carts"][0])
    assert staff["site"] is None


def right_to_go(phone):
    return phone.get("/sync/reference").json()["carts"][0]["right_to_go"]


def test_limits_are_told_in_full(db, now):
    walk.edition()
    line = out_line(at=now)
    phone = phone_of(line, at=now)
    assert right_to_go(phone) == {"state": "ready", "sentence": "Nothing the yard knows of stops it."}
    limit = LimitFactory(cart=line.cart, words="No cannon.")
    assert right_to_go(phone) == {"state": "limits", "sentence": f"Goes with limits: {limit.words}"}


def test_what_stops_it_is_told_and_who_tagged_it_out_is_not(db, now, settings):
    walk.edition()
    line = out_line(at=now)
    # Promised to somebody else besides, which is no business of this hire.
    LineFactory(cart=line.cart, starts_at=now + 6 * DAY, agreement__customer__name="Rival Earth")
    phone = phone_of(line, at=now)
    assert right_to_go(phone)["state"] == "ready"
    hold = HoldFactory(cart=line.cart, reason="Gearbox noise")
    told = right_to_go(phone)
    assert told == {
        "state": "held",
        "sentence": f"Held: Tagged out by the yard. Ring the yard before it works: {settings.YARD_ON_CALL}.",
    }
    text = phone.get("/sync/reference").content.decode()
    assert hold.placed_by.full_name not in text
    assert "Rival Earth" not in text


def test_over_it_shows_no_cart_and_still_takes_what_was_signed(phone, line, people, now):
    body = signed_on(line, now)
    Line.objects.filter(pk=line.pk).update(back_at=now)
    end_site_walkers(subject=("hire_line", line.pk), by=people[Role.HIRE_DESK], at=now)
    told = phone.get("/sync/reference").json()
    assert (told["carts"], told["site"]["is_over"]) == ([], True)
    assert phone.get("/sync/hello").json()["may_walk"] is True
    assert phone.get(f"/sync/lap/{line.cart_id}.svg").status_code == 404
    assert phone.put(body).status_code == 201
    assert phone.get(f"/sync/held?id={body['id']}").json()["held"] == {
        body["id"]: WalkRound.objects.get().manifest_sha256
    }


def test_a_pre_start_signed_on_site_is_kept_under_its_signers_name(phone, line, now):
    key, place = key_of(line.cart, "daily", answer="sound")
    body = signed_on(line, now, answers={(key, place): {"answer": "wrong", "grade": "do_not_use"}})
    answer = phone.put(body)
    assert (answer.status_code, answer.json()["outcome"]) == (201, "held")
    assert (answer.json()["name_confirmed"], answer.json()["page"]) == (True, "")
    assert phone.put(body).status_code == 200
    kept = WalkRound.objects.get()
    words = f"Jo Field, {line.agreement.customer.name}"
    assert (kept.author, kept.sent_by, kept.site_walker) == (None, None, SiteWalker.objects.get())
    assert (kept.author_words, kept.author_name) == (words, "Jo Field")
    entry = Entry.objects.get(event="inspections.walk_round.signed")
    assert (entry.by, entry.by_words) == (None, words)
    defect = Defect.objects.get()
    assert (defect.told_by, defect.told_by_words, defect.grade) == (None, words, "do_not_use")


def test_nothing_of_another_cart_is_taken_or_told(phone, line, other, tablet, now):
    theirs = walk.manifest(other.cart, at=now)
    assert phone.put(theirs).status_code == 404
    assert not WalkRound.objects.exists()
    assert phone.get(f"/sync/lap/{other.cart_id}.svg").status_code == 404
    assert Phone(other, open_phone(other, at=now)[1]).put(theirs).status_code == 201
    assert phone.get(f"/sync/held?id={theirs['id']}").json()["held"] == {}
    # The yard's own record of the very same cart is no business of the hire's people either.
    own = walk.manifest(line.cart, at=now)
    tablet.put(f"/sync/walk-round/{own['id']}", own, content_type="application/json")
    assert phone.get(f"/sync/held?id={own['id']}").json()["held"] == {}
    assert phone.put(own).status_code == 404


@pytest.mark.parametrize("purpose", ["weekly", "monthly", "as_returned", "after_wash"])
def test_what_is_not_walked_on_site_is_refused_in_words(phone, line, now, purpose):
    answer = phone.put(walk.manifest(line.cart, purpose, at=now))
    assert answer.status_code == 422
    assert "Show this record to the yard." in answer.json()["detail"]


def test_a_phone_opened_anew_sends_what_was_signed_before(line, now):
    open_phone(line, at=now)
    body = signed_on(line, now)
    _, token = open_phone(line, at=now, name="jo field")
    Phone(line, token).put(body)
    assert WalkRound.objects.get().author_words == f"jo field, {line.agreement.customer.name}"


def test_who_signed_is_named_when_another_sends_it(line, now):
    open_phone(line, at=now)
    body = signed_on(line, now)
    phone = phone_of(line, at=now, name="Ann Bee")
    phone.put(body)
    kept = WalkRound.objects.get()
    assert kept.author_words == f"Jo Field, {line.agreement.customer.name}, sent by Ann Bee"
    assert (kept.author_name, kept.site_walker.name) == ("Jo Field", "Ann Bee")


def test_photos_come_in_parts_under_the_phones_own_name(phone, line, other, now):
    raw = plain()
    address = f"/sync/photo/{sha256_hex(raw)}"
    half = len(raw) // 2
    length = {"Upload-Length": str(len(raw))}
    assert phone.put_bytes(address, raw[:half], **{"Upload-Offset": "0"}, **length).json() == {"offset": half}
    assert phone.get(address).json()["offset"] == half
    assert phone_of(other, at=now).get(address).json()["offset"] == 0
    answer = phone.put_bytes(address, raw[half:], **{"Upload-Offset": str(half)}, **length)
    assert answer.status_code == 201
    assert Photo.objects.get().received_from is None
    entry = Entry.objects.get(event="fleet.photo.taken_in")
    assert entry.by_words == f"Jo Field, {line.agreement.customer.name}"
    assert not PhotoPart.objects.exists()


def test_writing_wants_the_token(line, now):
    _, token = open_phone(line, at=now)
    phone = Phone(line, token, enforce_csrf_checks=True)
    body = signed_on(line, now)
    assert phone.put(body).status_code == 403
    phone.headers["X-CSRFToken"] = phone.get("/sync/hello").json()["csrf"]
    assert phone.put(body).status_code == 201
