"""Another rule set's words on what leaves the house – a letter of an alert, a certificate, the wire, a file – and what people typed
left on each of them."""

import gzip
import json
import re
from datetime import timedelta

import pytest
from django.contrib import messages
from django.core import mail
from django.core.exceptions import MiddlewareNotUsed
from django.db.models import CharField
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from config.screen_words import WordsMiddleware
from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from fleet.alerts.notices import put_together
from fleet.alerts.sending import deliver_next
from hire.actions.gate import valid_certificate
from hire.models.customers import Customer
from inspections.certificates.actions import paper_of
from inspections.certificates.content import from_json
from inspections.certificates.render import page_html
from inspections.models import WalkRound
from inspections.shell import shell_html
from people.notices import SaidStorage
from people.roles import Role
from people.say import reading, say, say_all, say_page, typed
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.hire import CustomerFactory, LineFactory, ready_line
from tests.factories.people import StaffFactory
from tests.inspections.certificate_files import paper
from tests.inspections.certificate_samples import lap_svg
from tests.other_words import left_over, left_over_in, rule_set
from tests.pages import text_of

DAY = timedelta(days=1)
NAME, SAID = "Cart & Sons", "The cart hit a post by the hire desk. Tyre gone."


@pytest.fixture
def american(settings, db):
    with rule_set("us", settings):
        yield


@pytest.fixture
def office(american, people, client):
    client.force_login(people[Role.HIRE_DESK])
    return client


def test_what_was_typed_stays_where_it_is_shown(office, people, at):
    line = LineFactory(
        agreement__customer=CustomerFactory(name=NAME),
        agreement__place_of_work="Carts of old, pre-start gate",
    )
    DefectFactory(cart=line.cart, title="Cart bent", words=SAID)
    page = text_of(office.get(reverse("hire:line_detail", args=[line.pk])))
    assert "Cart &amp; Sons" in page and "Carts of old, pre-start gate" in page
    cart = text_of(office.get(reverse("fleet:cart_detail", args=[line.cart.pk])))
    assert "Cart bent" in cart and "Back to trucks" in cart
    office.force_login(people[Role.WORKSHOP_MANAGER])
    told = text_of(office.get(reverse("servicing:defect_detail", args=[line.cart.defects.get().pk])))
    assert SAID.rstrip(".") in told and "truck" in told


def test_a_name_just_typed_stays_in_the_notice_and_in_the_form_that_comes_back(office):
    form = {"name": "Water Cart Hire of Kell", "contact_name": "Jo", "phone": "1"}
    back = office.post(reverse("hire:customer_add"), form | {"phone": ""})
    assert back.status_code == 422
    assert 'value="Water Cart Hire of Kell"' in back.content.decode()
    told = text_of(
        office.post(reverse("hire:customer_add"), form | {"email": "jo@kell.example"}, follow=True)
    )
    assert "Water Cart Hire of Kell is in the book." in told
    assert Customer.objects.get().name == "Water Cart Hire of Kell"
    assert "Make a rental agreement" in told


def test_a_notice_keeps_its_names_until_it_is_read(american, rf):
    request = rf.get("/")
    request.session = {}
    with reading():
        typed("Cart & Sons of the hire desk")
        told = SaidStorage(request)
        told.add(messages.INFO, "Cart & Sons of the hire desk has the cart.")
        answer = HttpResponse()
        told.update(answer)
    request.COOKIES = {name: one.value for name, one in answer.cookies.items()}
    with reading():
        (notice,) = SaidStorage(request)
        assert str(notice) == "Cart & Sons of the hire desk has the truck."
        assert say_page("<p>Cart &amp; Sons of the hire desk has the truck.</p>") == (
            "<p>Cart &amp; Sons of the hire desk has the truck.</p>"
        )


def test_a_table_as_a_file_has_the_yards_words_at_its_head_and_names_as_they_are(office, at):
    LineFactory(agreement__customer=CustomerFactory(name=NAME))
    told = office.get(reverse("fleet:cart_list") + "?as=csv").content.decode("utf-8-sig")
    assert not left_over_in(told.splitlines()[0], "us")
    assert NAME in office.get(reverse("hire:customer_list") + "?as=csv").content.decode("utf-8-sig")


def test_an_alerts_letter_reads_in_the_yards_words_and_leaves_a_name(american, at):
    StaffFactory(role="hire_desk", email="dot@yard.example")
    StaffFactory(role="fleet_manager", email="noor@yard.example")
    customer = CustomerFactory(name=NAME)
    late = LineFactory(
        agreement__customer=customer, starts_at=at - 9 * DAY, ends_at=at - DAY, handed_over_at=at - 9 * DAY
    )
    with reading():
        sweep(at=at)
        put_together(at=at)
    while deliver_next(at=at):
        pass
    about = Alert.objects.filter(subject_id=late.pk)
    assert about.exists()
    texts = [f"{one.subject}\n{one.body}" for one in mail.outbox]
    assert any("truck" in text.lower() for text in texts)
    assert any(NAME in text for text in texts)
    for text in texts:
        assert not left_over_in(text.replace(NAME, "").replace("Redgum Flat Water Carts", ""), "us"), text
    with reading():
        before = list(Alert.objects.values_list("pk", "changed_at", "what"))
        sweep(at=at + timedelta(minutes=5))
    assert list(Alert.objects.values_list("pk", "changed_at", "what")) == before


def test_a_certificate_keeps_its_words_and_what_was_typed(american, settings, hand, desk, at):
    cart = CartFactory(tyres=True)
    DefectFactory(cart=cart, title="Tyre rub", words=SAID, grade="watch")
    with reading():
        line = ready_line(hand=hand, at=at, cart=cart, agreement__customer=CustomerFactory(name=NAME))
    record = valid_certificate(line)
    content = paper_of(record)
    page = page_html(content, lap_svg=record.lap_svg)
    assert content.words == "us"
    assert "These results concern only the truck named" in content.concerns
    assert "Cart &amp; Sons" in page and SAID.rstrip(".") in page and "Tyre rub" in page
    assert "Which truck" in page and "Walk-around" in page
    statement = content.signatures[0].statement
    left = left_over(
        page,
        "us",
        NAME,
        "Cart &amp; Sons",
        SAID,
        "Tyre rub",
        "Redgum Flat Water Carts",
        statement,
        f"cart:{cart.pk}",
    )
    assert left == []
    # Read again later, in a yard whose words have changed meanwhile: the same to the letter, and under the same hash.
    settings.YARD_RULE_SET = "uk"
    with rule_set("uk", settings):
        again = from_json(json.loads(record.content))
        assert page_html(again, lap_svg=record.lap_svg) == page
        assert again.record_sha256 == record.record_sha256


def test_a_paper_from_before_reads_in_the_words_of_the_house(american):
    content, _ = paper("fit")
    assert "words" not in content.to_json()
    assert from_json(content.to_json()) == content
    page = page_html(content, lap_svg=lap_svg())
    assert "Which cart" in page and "truck" not in page


def test_the_tablets_sheets_read_in_the_yards_words(american, people, at):
    cart = CartFactory(make="Cart Works", where_words="The cart shed", tyres=True)
    walk.edition()
    DefectFactory(cart=cart, title="Cart bent")
    client = Client()
    client.force_login(people[Role.YARD_HAND])
    told = client.get("/sync/reference", headers={"accept-encoding": "identity"}).json()
    texts = json.dumps(
        {key: told[key] for key in ("checks", "purposes", "grades", "passes", "why_not", "phrases")}
    )
    assert "the truck stays" in texts
    for text in re.findall(r'"((?:[^"\\]|\\.)*)"', json.dumps(json.loads(texts), ensure_ascii=False)):
        assert not left_over_in(text, "us"), text
    (row,) = told["carts"]
    assert row["defects"][0]["title"] == "Cart bent"
    assert row["make_model"].startswith("Cart Works")
    assert row["where"] == "The cart shed"
    assert {item["check"] for item in row["sheets"]["daily"]["items"]} <= told["checks"].keys()


def test_a_walk_round_is_kept_as_it_was_read(american, people, at):
    cart = CartFactory(tyres=True)
    with reading():
        signed = walk.sign(cart, "pre_hire", by=people[Role.YARD_HAND], at=at)
    titles = list(WalkRound.objects.get(pk=signed.pk).answers.values_list("title", flat=True))
    assert "Tires by eye" in titles
    assert not any(left_over_in(title, "us") for title in titles)


def test_the_page_of_the_tablet_brings_the_table_and_opens_packed(american, people, client):
    client.force_login(people[Role.YARD_HAND])
    packed = client.get(reverse("inspections:capture"), headers={"accept-encoding": "gzip"})
    page = gzip.decompress(packed.content) if packed.has_header("Content-Encoding") else packed.content
    assert b"<title>Trucks today" in page
    assert b"data-words=" in page and b"&quot;cart&quot;: &quot;truck&quot;" in page


def test_a_yard_of_the_house_runs_none_of_it(client, people, db):
    with pytest.raises(MiddlewareNotUsed):
        WordsMiddleware(lambda _request: None)
    text, plain = "The cart’s pre-start", {"a": ["cart"]}
    assert say(text) is text and say_page(text) is text and say_all(plain) is plain and typed(plain) is plain
    assert "from_db_value" not in vars(Customer._meta.get_field("name"))
    assert not hasattr(CharField, "from_db_value")
    assert "data-words" not in shell_html()
    client.force_login(people[Role.HIRE_DESK])
    assert "How this yard’s words read" not in text_of(client.get(reverse("fleet:cart_list")))


def test_the_page_of_yards_shows_how_the_words_read(american, people, client):
    client.force_login(people[Role.FLEET_MANAGER])
    assert "“water cart” reads “water truck”" in text_of(client.get(reverse("fleet:yard_list")))
