"""Wrong again as it came back, where a defect of the same check was open as it left: asked, once, before anything is charged."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.models.defects import Defect
from hire.actions import back as acts
from hire.back_decisions import decidables
from hire.back_record import read_record
from hire.charging.back import Typed
from hire.models.back import AgainSaid, BackDecision
from people.journal.models import Entry
from people.refusals import NotAllowed
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.back import DAY, HOUR, REAR, back_line, found_again, returned_line, wrong
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.hire import ready_line
from tests.pages import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def line(at):
    return back_line(at=at)[0]


@pytest.fixture
def answer(line, hand, at):
    return found_again(hand=hand, at=at - HOUR, line=line)


def asked(line):
    return [one for one in decidables(read_record(line)) if one.proposal.kind == "again"]


def say(line, answer, by, at, **said):
    said = {"outcome": "new", "words": "Bumper pushed in on the left"} | said
    return acts.say_again(line=line, key=str(answer.pk), **said, by=by, at=at)


def test_it_is_asked_and_neither_charged_nor_let_go_before(line, answer, desk, at):
    assert Defect.objects.filter(cart=line.cart, check_key=REAR).count() == 1
    (one,) = asked(line)
    assert (one.is_open, one.proposal.what) == (True, "As it came back, Rear")
    assert one.proposal.shown.startswith("Bumper bent. As returned, ")
    assert "Open here as it left: “Old scrape”, " in one.proposal.shown
    for act, more in (
        (acts.charge_found, {"typed": Typed(amount=Decimal(240))}),
        (acts.let_go_found, {"reason": "fair_wear"}),
    ):
        with pytest.raises(acts.SayFirst, match="say first whether it is what was there before"):
            act(line=line, key=one.proposal.key, **more, by=desk, at=at)
    assert not BackDecision.objects.exists()


def test_the_same_as_before_is_said_once_with_its_reason(line, answer, desk, at):
    said = say(line, answer, desk, at, outcome="same", words="Both pictures show the same crease")
    (one,) = asked(line)
    assert (one.is_open, one.again.said, said.told) == (False, said, None)
    assert Defect.objects.filter(cart=line.cart, check_key=REAR).count() == 1
    entry = Entry.objects.get(event="hire.found.told_apart", chain="yard")
    assert (entry.by, entry.subject_id) == (desk, line.pk)
    with pytest.raises(acts.AlreadySaid, match="Both pictures show the same crease"):
        say(line, answer, desk, at)


def test_new_damage_is_a_defect_of_its_own_with_the_evidence_and_is_charged(line, answer, desk, at):
    said = say(line, answer, desk, at)
    told = said.told
    assert (told.title, told.grade, told.station) == ("As it came back", "by_date", "rear")
    assert told.words == "Bumper pushed in on the left. Bumper bent"
    assert list(told.photos.all()) == [link.photo for link in answer.photos.all()]
    assert told.told_by == desk
    assert said.joined.words == "Old scrape"
    (one,) = asked(line)
    assert not one.is_open
    key = f"defect-{told.pk}"
    assert key in {each.proposal.key for each in decidables(read_record(line))}
    typed = Typed(amount=Decimal(240))
    charged = acts.charge_found(line=line, key=key, typed=typed, words="Bumper", by=desk, at=at)
    assert charged.amount == Decimal("240.00")


@pytest.mark.parametrize(
    ("said", "field"),
    [({"outcome": ""}, "outcome"), ({"words": " "}, "words"), ({"outcome": "same", "words": ""}, "words")],
)
def test_nothing_is_said_without_its_reason(line, answer, desk, said, field):
    with pytest.raises(acts.WordsWanted) as no:
        say(line, answer, desk, timezone.now(), **said)
    assert no.value.field == field


def test_only_the_desk_says_it_and_only_of_what_was_found(line, answer, people, desk, at):
    with pytest.raises(NotAllowed):
        say(line, answer, people["workshop_manager"], at)
    with pytest.raises(acts.NotProposed):
        say(back_line(at=at)[0], answer, desk, at)


def test_what_was_told_anew_is_not_asked(hand, at):
    """Worse than what stood: the check told it itself, also when the workshop says later that it is the same."""
    cart = CartFactory(fleet_number="RG07", tyres=True)
    stood = DefectFactory(
        cart=cart, grade="watch", station="rear", place="", check_key=REAR, told_at=at - 9 * DAY
    )
    line = returned_line(hand=hand, at=at, cart=cart, found={REAR: wrong("Bumper bent")})
    assert asked(line) == []
    told = cart.defects.exclude(pk=stood.pk)
    Defect.objects.filter(pk=stood.pk).update(grade="by_date")
    told.update(state="same_as", same_as=stood, closed_at=at + 6 * DAY)
    assert asked(line) == []


def test_what_was_mended_before_it_came_back_is_told_and_not_asked(hand, at):
    cart = CartFactory(fleet_number="RG07", tyres=True)
    DefectFactory(
        cart=cart, grade="watch", station="rear", place="", check_key=REAR, told_at=at - 9 * DAY, state="verified",
        closed_at=at + DAY,
    )  # fmt: skip
    line = returned_line(hand=hand, at=at, cart=cart, found={REAR: wrong("Bumper bent", "watch")})
    assert asked(line) == []
    assert len(read_record(line).new) == 1


def test_told_apart_after_it_left_again_it_is_no_part_of_the_next_hire(line, answer, hand, desk, at):
    again = ready_line(hand=hand, at=at + DAY, cart=CartFactory(tyres=True))
    again.cart, again.handed_over_at, again.back_at = line.cart, at + DAY, at + 2 * DAY
    again.save()
    walk.sign(line.cart, "as_returned", by=hand, at=at + 2 * DAY)
    told = say(line, answer, desk, at + 3 * DAY).told
    assert told in [one.defect for one in read_record(line).new]
    assert read_record(again).new == []
    assert told in [one.defect for one in read_record(again).on_record]


@pytest.mark.parametrize("facts", [{"outcome": "new"}, {"outcome": "same", "words": ""}, {"outcome": "odd"}])
def test_the_database_refuses_what_makes_no_sense(line, answer, desk, at, facts):
    joined = line.cart.defects.get(check_key=REAR)
    row = {
        "line": line,
        "answer": answer,
        "joined": joined,
        "words": "Creased",
        "said_at": at,
        "said_by": desk,
    }
    with pytest.raises(IntegrityError, match="hire_againsaid_same_or_new"), transaction.atomic():
        AgainSaid.objects.create(**row | facts)


@pytest.mark.django_db(transaction=True)
def test_two_desks_at_once_say_it_once(people, hand, at):
    line = back_line(at=at)[0]
    answer = found_again(hand=hand, at=at - HOUR, line=line)
    desks = (people["hire_desk"], people["fleet_manager"])
    answers = at_once(*(lambda desk=desk: say(line, answer, desk, at) for desk in desks))
    assert sorted(type(one).__name__ for one in answers) == ["AgainSaid", "AlreadySaid"]
    assert Defect.objects.filter(cart=line.cart, check_key=REAR).count() == 2


def test_the_page_shows_both_and_leads_on_to_the_charge(people, hand, sign_in):
    now = timezone.now()
    line = back_line(at=now)[0]
    answer = found_again(hand=hand, at=now - 2 * HOUR, line=line)
    client = sign_in(people["hire_desk"])
    address = reverse("hire:found_again", args=[line.pk, answer.pk])
    assert address in text_of(client.get(reverse("hire:out_and_back", args=[line.pk])))
    page = text_of(client.get(address))
    left, back = page.split('id="again"')
    assert "Old scrape" in left.split('id="open"')[1]
    assert reverse("fleet:photo", args=[answer.photos.get().photo_id]) in back
    assert "checked" not in page.split('<form class="measure')[1]
    refused = client.post(address, {"words": "Pushed in on the left"})
    assert refused.status_code == 422
    assert "Say whether it is the same as before or new damage." in text_of(refused)
    assert "Pushed in on the left" in text_of(refused)
    answered = client.post(address, {"outcome": "new", "words": "Pushed in on the left"}, follow=True)
    told = AgainSaid.objects.get().told
    assert answered.redirect_chain[-1][0] == reverse("hire:back_decide", args=[line.pk, f"defect-{told.pk}"])
    assert "As it came back, Rear: new damage." in text_of(answered)
    said = text_of(client.get(address))
    assert "Write it down" not in said
    assert "Pushed in on the left" in said
