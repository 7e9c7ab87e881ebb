"""How a customer's person comes to the pre-start: the hire's link, or the plate with the site code; and who ends it."""

from datetime import timedelta
from functools import partial

import pytest
from django.contrib.auth.hashers import identify_hasher
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from hire.actions import agreements, gate, site
from hire.actions.links import make_link, revoke_link
from hire.models.links import SiteCode
from inspections.models import SiteWalker, WalkRound
from people.journal.models import Entry
from people.models import SignInThrottle
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.hire import LineFactory
from tests.factories.people import StaffFactory
from tests.factories.site import Phone, open_phone, out_line

DAY = timedelta(days=1)
CODE = "K7CF3MXP"


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def line(db, now):
    walk.edition()
    return out_line(at=now, cart=CartFactory(fleet_number="RG07", tyres=True))


@pytest.fixture
def token(line, desk, now):
    return make_link(line=line, for_words="Aoife", by=desk, at=now)[1]


@pytest.fixture
def code(line, desk, now):
    return site.make_site_code(line=line, by=desk, at=now)[1]


def open_link(client, token, name="Jo Field"):
    return client.post(reverse("hire:link_open", args=[token]), {"name": name})


def open_plate(client, line_or_plate, code, name="Jo Field", **extra):
    plate = getattr(line_or_plate, "cart", None)
    plate = plate.plate_code if plate else line_or_plate
    return client.post(reverse("hire:plate_open", args=[plate]), {"name": name, "code": code}, **extra)


def assert_opens(answer, line):
    assert (answer.status_code, answer["Location"]) == (303, f"/check/?hire={line.pk}")
    cookie = answer.cookies[f"slake-hire-{line.pk.hex}"]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", "/")
    told = Phone(line, cookie.value).get("/sync/reference").json()
    assert [cart["fleet_number"] for cart in told["carts"]] == [line.cart.fleet_number]


def test_the_link_opens_the_pre_start_on_this_phone(client, line, token):
    page = client.get(reverse("hire:customer_page", args=[token]))
    assert "Do the pre-start on this phone" in page.content.decode()
    answer = open_link(client, token)
    assert_opens(answer, line)
    assert token not in answer["Location"]
    assert (answer["Cache-Control"], answer["Referrer-Policy"]) == ("no-store", "no-referrer")
    kept = SiteWalker.objects.get()
    assert (kept.name, kept.for_words, kept.opened_how) == ("Jo Field", line.agreement.customer.name, "link")
    cookie = answer.cookies[f"slake-hire-{line.pk.hex}"].value
    stored = str(SiteWalker.objects.values().get()) + "".join(Entry.objects.values_list("text", flat=True))
    assert cookie not in stored
    entry = Entry.objects.get(event="inspections.site_walker.opened")
    assert (entry.by, entry.by_words) == (None, f"Jo Field, {line.agreement.customer.name}")


def test_in_production_the_cookie_is_for_https_and_this_host_alone(client, line, token, settings):
    settings.SESSION_COOKIE_SECURE, settings.SITE_COOKIE_PREFIX = True, "__Host-slake-hire-"
    cookie = open_link(client, token).cookies[f"__Host-slake-hire-{line.pk.hex}"]
    assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", "")


def test_one_phone_holds_two_hires(client, line, token, desk, now):
    other = out_line(at=now)
    other_token = make_link(line=other, for_words="Aoife", by=desk, at=now)[1]
    open_link(client, token)
    open_link(client, other_token)
    for one in (line, other):
        told = client.get("/sync/reference", headers={"Slake-Hire": str(one.pk)}).json()
        assert [cart["id"] for cart in told["carts"]] == [str(one.cart_id)]


def test_the_same_person_again_keeps_the_phone_as_it_is(client, line, token):
    first = open_link(client, token).cookies[f"slake-hire-{line.pk.hex}"].value
    again = open_link(client, token, name=" jo  field ")
    assert again.cookies[f"slake-hire-{line.pk.hex}"].value == first
    assert SiteWalker.objects.count() == 1
    open_link(client, token, name="Ann Bee")
    assert SiteWalker.objects.count() == 2


def test_a_name_is_wanted_and_the_page_comes_back(client, token):
    answer = open_link(client, token, name="  ")
    assert answer.status_code == 422
    assert "it stands under every pre-start you sign" in answer.content.decode()
    assert not SiteWalker.objects.exists()


def test_a_browser_that_sends_no_origin_is_let_in(line, token):
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post(
        reverse("hire:link_open", args=[token]), {"name": "Jo Field"}, headers={"Origin": "null"}
    )
    assert answer.status_code == 303


def test_a_hire_opens_on_so_many_phones_and_no_more(line, now, monkeypatch, client, token):
    monkeypatch.setattr("inspections.site_walkers.MOST_OPEN", 2)
    for name in ("A", "B"):
        open_phone(line, at=now, name=name)
    answer = open_link(client, token)
    assert answer.status_code == 422
    assert "open on 2 phones already" in answer.content.decode()


def test_ending_the_link_ends_what_it_opened_and_nothing_else(client, line, token, desk, now):
    open_link(client, token)
    open_phone(line, at=now, name="Through the code")
    link = line.links.get()
    revoke_link(link=link, by=desk, at=now)
    ended = {walker.name: walker.revoked_at for walker in SiteWalker.objects.all()}
    assert ended == {"Jo Field": now, "Through the code": None}


def test_the_code_opens_the_pre_start_at_the_plate(client, line, code):
    assert len(code) == 8
    assert_opens(open_plate(client, line, site.printed(code).lower()), line)
    kept = SiteWalker.objects.get()
    assert (kept.opened_how, kept.opened_through) == ("code", None)
    # Right, so the tries are forgotten.
    assert set(SignInThrottle.objects.values_list("failures", flat=True)) == {0}


def test_the_code_is_kept_as_a_password_is(line, code, desk, now):
    kept = SiteCode.objects.get()
    assert identify_hasher(kept.code_hash)
    assert (
        code not in str(SiteCode.objects.values().get()) + Entry.objects.get(event="hire.site_code.made").text
    )
    _, newer = site.make_site_code(line=line, by=desk, at=now)
    assert SiteCode.objects.count() == 1
    with pytest.raises(site.WrongCode):
        site.open_with_code(plate_code=line.cart.plate_code, code=code, name="Jo", address="1.2.3.4", at=now)
    site.open_with_code(plate_code=line.cart.plate_code, code=newer, name="Jo", address="1.2.3.5", at=now)


def test_codes_leave_out_what_is_taken_for_something_else():
    assert not set("0O1IL2Z5S8BUVQ") & set(site.LETTERS)
    assert len(site.LETTERS) ** site.LENGTH > 2**35


def test_a_wrong_code_says_one_thing_whatever_is_wrong(client, line, code, desk, now):
    over = out_line(at=now)
    over_code = site.make_site_code(line=over, by=desk, at=now)[1]
    gate.bring_back(line=over, where_words="Wash bay", keys_words="Hook 2", by=desk, at=now)
    bodies = set()
    for plate, typed in (
        (line.cart.plate_code, "ACDEFGHJ"),
        ("nosuchplate00000", code),
        (over.cart.plate_code, over_code),
        (CartFactory().plate_code, code),
    ):
        answer = open_plate(client, plate, typed, name="Jo Field")
        assert answer.status_code == 422
        page = answer.content.decode()
        assert "That site code does not open this plate." in page
        assert 'value="Jo Field"' in page
        assert typed not in page
        bodies.add(page.replace(plate, "PLATE").split("csrfmiddlewaretoken")[0])
    assert len(bodies) == 1


def test_a_plate_alone_shows_a_stranger_the_same_page_whatever_it_is(client, line, people):
    pages = []
    for plate in (line.cart.plate_code, CartFactory().plate_code, "nosuchplate00000"):
        answer = client.get(reverse("fleet:plate", args=[plate]))
        assert answer.status_code == 200
        page = answer.content.decode().replace(plate, "PLATE")
        pages.append(page.split("csrfmiddlewaretoken")[0])
        assert line.cart.fleet_number not in page
    assert len(set(pages)) == 1
    client.force_login(people[Role.YARD_HAND])
    assert client.get(reverse("fleet:plate", args=[line.cart.plate_code])).status_code == 302
    assert client.get(reverse("fleet:plate", args=["nosuchplate00000"])).status_code == 404


def test_after_some_wrong_codes_one_waits_and_the_right_one_waits_too(client, line, code):
    for _ in range(site.FREE_TRIES_OF_PAIR):
        assert open_plate(client, line, "ACDEFGHJ").status_code == 422
    assert open_plate(client, line, "ACDEFGHJ").status_code == 422
    answer = open_plate(client, line, code)
    assert answer.status_code == 429
    assert "Too many tries. Wait" in answer.content.decode()
    assert open_plate(client, line, code, REMOTE_ADDR="10.0.0.9").status_code == 303


def test_one_address_may_not_try_every_plate(client, line, code, now):
    tries = partial(site.open_with_code, name="Jo", address="10.1.1.1", at=now)
    for n in range(site.FREE_TRIES_OF_ADDRESS + 1):
        with pytest.raises(site.WrongCode):
            tries(plate_code=f"plate{n}", code="ACDEFGHJ")
    with pytest.raises(site.TooManyTries):
        tries(plate_code=line.cart.plate_code, code=code)


def test_nor_one_plate_be_tried_from_every_address(line, code, now):
    tries = partial(site.open_with_code, name="Jo", plate_code=line.cart.plate_code, at=now)
    for n in range(site.FREE_TRIES_OF_PLATE + 1):
        with pytest.raises(site.WrongCode):
            tries(address=f"10.2.0.{n}", code="ACDEFGHJ")
    with pytest.raises(site.TooManyTries):
        tries(address="10.3.0.1", code=code)
    # It is a wait, not a lock.
    later = now + timedelta(minutes=20)
    site.open_with_code(plate_code=line.cart.plate_code, code=code, name="Jo", address="10.3.0.1", at=later)


@pytest.mark.django_db(transaction=True)
def test_many_tries_at_once_are_no_more_than_one_after_the_other():
    now = timezone.now()
    line, desk = out_line(at=now), StaffFactory(role="hire_desk")
    site.make_site_code(line=line, by=desk, at=now, code=CODE)
    one = partial(
        site.open_with_code,
        plate_code=line.cart.plate_code,
        code="ACDEFGHJ",
        name="Jo",
        address="10.0.0.1",
        at=now,
    )
    given = [type(answer).__name__ for answer in at_once(*[one] * 24)]
    # The free ones, and the one that makes the next wait.
    assert given.count("WrongCode") == site.FREE_TRIES_OF_PAIR + 1
    assert given.count("TooManyTries") == 24 - site.FREE_TRIES_OF_PAIR - 1


def test_a_name_is_asked_for_before_a_try_is_counted(client, line, code):
    assert open_plate(client, line, code, name="").status_code == 422
    assert not SignInThrottle.objects.exists()


def test_the_desk_makes_a_code_and_sees_it_once(client, line, desk):
    client.force_login(desk)
    page = client.post(reverse("hire:site_code_make", args=[line.pk]))
    shown = page.context["code"]
    assert (page.status_code, len(shown), shown[4]) == (200, 9, "-")
    assert shown in page.content.decode()
    assert "no-store" in page["Cache-Control"]
    again = client.get(reverse("hire:line_detail", args=[line.pk])).content.decode()
    assert shown not in again
    assert "Make a new site code" in again


def test_the_desk_sees_who_may_walk_and_ends_one_at_once(client, line, desk, now):
    walker, token = open_phone(line, at=now)
    client.force_login(desk)
    page = client.get(reverse("hire:line_detail", args=[line.pk])).content.decode()
    assert "Jo Field" in page
    assert "Opened with the site code" in page
    client.post(reverse("hire:site_walker_end", args=[walker.pk]))
    assert Phone(line, token).get("/sync/reference").status_code == 401
    client.post(reverse("hire:site_walker_end", args=[walker.pk]))
    assert Entry.objects.filter(event="inspections.site_walker.revoked").count() == 1


@pytest.mark.parametrize("role", sorted(set(Role) - DESK))
def test_only_the_desk_gives_codes_and_ends_phones(people, line, now, role):
    walker, _ = open_phone(line, at=now)
    with pytest.raises(NotAllowed):
        site.make_site_code(line=line, by=people[role], at=now)
    with pytest.raises(NotAllowed):
        site.end_site_walker(walker=walker, by=people[role], at=now)


def test_back_in_the_yard_the_phones_are_over_and_nothing_opens_anew(client, line, token, code, desk):
    now = timezone.now()
    open_link(client, token)
    gate.bring_back(line=line, where_words="Wash bay", keys_words="Hook 2", by=desk, at=now)
    assert SiteWalker.objects.get().over_at == now
    assert open_link(client, token).status_code == 422
    assert open_plate(client, line, code).status_code == 422
    assert "Do the pre-start" not in client.get(reverse("hire:customer_page", args=[token])).content.decode()
    with pytest.raises(site.HireOver):
        site.make_site_code(line=line, by=desk, at=now)


def test_cancelled_the_phones_are_over_too(desk, now, db):
    line = LineFactory(starts_at=now + DAY)
    open_phone(line, at=now)
    agreements.cancel_line(line=line, why="Rain", by=desk, at=now)
    assert SiteWalker.objects.get().over_at == now


def test_a_longer_hire_keeps_the_phones_open_longer(line, desk, now):
    walker, token = open_phone(line, at=now)
    ends = line.promised.upper + 10 * DAY
    agreements.move_line(line=line, starts_at=line.promised.lower, ends_at=ends, by=desk, at=now)
    walker.refresh_from_db()
    assert walker.expires_at == ends + 30 * DAY
    cookie = Phone(line, token).get("/sync/hello").cookies[f"slake-hire-{line.pk.hex}"]
    assert cookie.value == token
    assert int(cookie["max-age"]) > 42 * 86_400


def test_the_link_shows_the_pre_starts_of_this_hire(client, line, token, now, people):
    _, phone_token = open_phone(line, at=now)
    Phone(line, phone_token).put(walk.manifest(line.cart, at=now))
    walk.sign(line.cart, "daily", by=people[Role.YARD_HAND], at=now - timedelta(hours=20))
    walk.sign(line.cart, "daily", by=people[Role.YARD_HAND], at=now - 9 * DAY)
    answer = client.get(reverse("hire:customer_page", args=[token]))
    shown = answer.context["pre_starts"]
    assert [one.is_from_site for one in shown] == [True, False]
    page = answer.content.decode()
    assert "Jo Field" in page
    assert people[Role.YARD_HAND].full_name not in page
    assert WalkRound.objects.count() == 3


def test_the_manifest_of_a_hire_opens_at_its_page_and_holds_no_secret(client, line):
    answer = client.get(f"/check/{line.pk}/slake.webmanifest")
    told = answer.json()
    assert answer["Content-Type"] == "application/manifest+json"
    assert (told["start_url"], told["id"], told["scope"]) == (
        f"/check/?hire={line.pk}",
        f"/check/?hire={line.pk}",
        "/check/",
    )
