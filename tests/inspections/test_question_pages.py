"""Questions worth asking on the pages: who meets them, how one is put to rest, and what that leaves as it was."""

import time
from datetime import timedelta
from fractions import Fraction
from functools import partial

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions.locks import AgainstARule
from inspections.honesty import RULES, questions_of
from inspections.models import RestedQuestion, WalkRound
from inspections.questions import AlreadyAtRest, OwnWalkRound, may_see_questions, rest_question
from inspections.sign_rules import Rules
from people.journal.actions import write_journal
from people.journal.events import Event
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import MANAGERS, Role
from tests.at_once import at_once
from tests.factories import inspections as signed
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.pages import queries_of, saved, text_of

HEADING = "Questions worth asking"
QUESTION = "Were these looked at one by one?"
FOUND_OUT = "Asked Ruby: two of them walked it together, one at the tablet."


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def hand(db):
    return StaffFactory(full_name="Ruby <b>Tane</b>")


@pytest.fixture
def walk(hand, now):
    """All its answers were given at one instant."""
    signed.edition()
    return signed.sign(CartFactory(tyres=True), "daily", by=hand, at=now - timedelta(hours=1))


def page_of(walk):
    return reverse("inspections:walk_round_detail", args=[walk.pk])


def rest_of(walk, code="pace"):
    return reverse("inspections:question_rest", args=[walk.pk, code])


LIST = reverse("inspections:question_list")


def rest(walk, by, at, words=FOUND_OUT, code="pace"):
    row = WalkRound.objects.select_related("cart", "author").get(pk=walk.pk)
    sign = next(one.sign for one in questions_of([row])[row.pk] if one.sign.code == code)
    return rest_question(walk=row, sign=sign, words=words, by=by, at=at)


@pytest.mark.parametrize("role", list(Role))
def test_managers_alone_meet_the_questions(role, client, people, walk):
    client.force_login(people[role])
    page, walks = (
        text_of(client.get(page_of(walk))),
        text_of(client.get(reverse("inspections:walk_round_list"))),
    )
    is_manager = role in MANAGERS
    assert (HEADING in page, QUESTION in page) == (is_manager, is_manager)
    assert (f'href="{LIST}"' in walks) == is_manager
    assert client.get(LIST).status_code == (200 if is_manager else 403)


def test_the_page_shows_the_evidence_and_what_it_rests_on(client, people, walk):
    client.force_login(people[Role.WORKSHOP_MANAGER])
    page = text_of(client.get(page_of(walk)))
    for words in (
        "answers in a row came within 1.2 seconds of one another",
        "The sheet reckons",
        "The sheet’s minutes are what a practised person takes.",
        "Each may have a good reason: ask.",
        f'href="{rest_of(walk)}"',
    ):
        assert words in page


@pytest.mark.parametrize("role", sorted(MANAGERS))
def test_nobody_is_asked_about_their_own_walk_round(role, client, people, walk, now):
    own = signed.sign(CartFactory(tyres=True), "daily", by=people[role], at=now - timedelta(minutes=5))
    client.force_login(people[role])
    assert HEADING not in text_of(client.get(page_of(own)))
    assert page_of(own) not in text_of(client.get(LIST))
    assert page_of(walk) in text_of(client.get(LIST))
    assert client.get(rest_of(own)).status_code == 404
    assert client.post(rest_of(own), {"words": FOUND_OUT}).status_code == 404
    assert not may_see_questions(people[role], own)
    with pytest.raises(OwnWalkRound, match="Another manager"):
        rest(own, people[role], now)


def test_the_author_meets_nothing_of_it_even_when_it_was_put_to_rest(client, people, walk, hand, now):
    rest(walk, people[Role.FLEET_MANAGER], now)
    client.force_login(hand)
    for address in (
        page_of(walk),
        reverse("fleet:cart_detail", args=[walk.cart_id]),
        reverse("inspections:walk_round_list"),
    ):
        page = text_of(client.get(address))
        assert HEADING not in page
        assert FOUND_OUT not in page
        assert "to rest" not in page


def test_putting_a_question_to_rest(client, people, walk):
    manager = people[Role.WORKSHOP_MANAGER]
    client.force_login(manager)
    form = text_of(client.get(rest_of(walk)))
    assert QUESTION in form
    assert "Ruby &lt;b&gt;Tane&lt;/b&gt;, yard hand" in form
    answer = client.post(rest_of(walk), {"words": f"  {FOUND_OUT} "})
    assert (answer.status_code, answer["Location"]) == (302, page_of(walk))
    kept = RestedQuestion.objects.get()
    assert (kept.walk_round_id, kept.code, kept.words, kept.rested_by) == (
        walk.pk,
        "pace",
        FOUND_OUT,
        manager,
    )
    assert kept.question.startswith(QUESTION)
    page = text_of(client.get(page_of(walk)))
    assert f"Put to rest by <b>{manager.full_name}</b>" in page
    assert FOUND_OUT in page
    assert f'href="{rest_of(walk)}"' not in page
    assert page_of(walk) not in text_of(client.get(LIST))
    assert FOUND_OUT in text_of(client.get(f"{LIST}?show=all"))


def test_what_it_leaves_as_it_was(people, walk, now):
    """The record, its outcome, the cart's right to go, and the cart's journal, which everybody reads."""
    cart_entries = Entry.objects.filter(chain=f"cart:{walk.cart_id}").count()
    before = WalkRound.objects.values().get(pk=walk.pk)
    rest(walk, people[Role.FLEET_MANAGER], now)
    assert WalkRound.objects.values().get(pk=walk.pk) == before
    assert Entry.objects.filter(chain=f"cart:{walk.cart_id}").count() == cart_entries
    entry = Entry.objects.get(event=Event.QUESTION_RESTED.value)
    assert (entry.chain, entry.subject_id, entry.by) == ("yard", walk.pk, people[Role.FLEET_MANAGER])
    for fact in (FOUND_OUT, QUESTION, walk.cart.fleet_number, '"code":"pace"'):
        assert fact in entry.text


@pytest.mark.parametrize("role", sorted(set(Role) - MANAGERS))
def test_others_are_refused_by_the_action_too(role, people, walk, now):
    with pytest.raises(NotAllowed):
        rest(walk, people[role], now)
    assert not RestedQuestion.objects.exists()


@pytest.mark.parametrize("words", ["", "   ", "\n\t"])
def test_nothing_said_puts_nothing_to_rest(words, client, people, walk, now):
    client.force_login(people[Role.FLEET_MANAGER])
    answer = client.post(rest_of(walk), {"words": words})
    assert answer.status_code == 422
    assert "Not filled in yet." in text_of(answer)
    with pytest.raises(AgainstARule, match="Say what you found out") as refused:
        rest(walk, people[Role.FLEET_MANAGER], now, words=words)
    assert refused.value.field == "words"
    assert not RestedQuestion.objects.exists()


def test_once_at_rest_it_stays_so(client, people, walk, now):
    rest(walk, people[Role.FLEET_MANAGER], now)
    with pytest.raises(AlreadyAtRest):
        rest(walk, people[Role.WORKSHOP_MANAGER], now, words="Another answer")
    client.force_login(people[Role.WORKSHOP_MANAGER])
    assert "Put to rest already by" in text_of(client.get(rest_of(walk)))
    answer = client.post(rest_of(walk), {"words": "Another answer"})
    assert answer.status_code == 422
    assert "was put to rest already" in text_of(answer)
    assert "Another answer" in text_of(answer)
    assert RestedQuestion.objects.get().words == FOUND_OUT


@pytest.mark.django_db(transaction=True)
def test_two_managers_at_once_put_it_to_rest_once(people, walk, now, monkeypatch):
    def slowly(**entry):
        # The one who is first is still at it when the other comes.
        time.sleep(0.5)
        return write_journal(**entry)

    monkeypatch.setattr("inspections.questions.write_journal", slowly)
    given = at_once(*[partial(rest, walk, people[role], now) for role in MANAGERS])
    assert sorted(type(one).__name__ for one in given) == ["AlreadyAtRest", "RestedQuestion"]


HOSTILE = {
    "nought": "Asked\x00 Ruby",
    "too long": "a" * 401,
    "script": "<script>alert(1)</script>",
    "half a pair": "\ud800".encode("utf-8", "surrogatepass"),
}


@pytest.mark.parametrize(
    ("kind", "status"), [("nought", 422), ("too long", 422), ("script", 302), ("half a pair", 302)]
)
def test_whatever_is_typed_is_kept_as_words_or_refused(kind, status, client, people, walk):
    client.force_login(people[Role.FLEET_MANAGER])
    assert client.post(rest_of(walk), {"words": HOSTILE[kind]}).status_code == status
    assert RestedQuestion.objects.exists() == (status == 302)
    assert "<script>alert" not in text_of(client.get(page_of(walk)))


@pytest.mark.parametrize("code", ["rate", "guilty", "PACE", "0", "a" * 60])
def test_a_question_that_is_not_asked_is_not_there(code, client, people, walk):
    client.force_login(people[Role.FLEET_MANAGER])
    assert client.get(rest_of(walk, code)).status_code == 404
    assert client.post(rest_of(walk, code), {"words": FOUND_OUT}).status_code == 404


@pytest.mark.parametrize(
    "query", ["?page=0", "?page=-3", "?page=999", "?page=%00", "?show=<b>", "?show=all&page=x"]
)
def test_odd_addresses_of_the_list_open(query, client, people, walk):
    client.force_login(people[Role.FLEET_MANAGER])
    assert client.get(f"{LIST}{query}").status_code == 200


def test_the_list_says_so_when_it_is_empty(client, people):
    client.force_login(people[Role.FLEET_MANAGER])
    assert "No walk-round has been signed here but by you." in text_of(client.get(LIST))


def test_a_page_of_walk_rounds_without_a_question_says_so(client, people, walk, now):
    rest(walk, people[Role.FLEET_MANAGER], now)
    client.force_login(people[Role.WORKSHOP_MANAGER])
    page = text_of(client.get(LIST))
    assert "Nothing to ask about these walk-rounds." in page
    assert "0 of 1 walk-rounds" in page


def test_names_are_words_on_the_list(client, people, walk):
    client.force_login(people[Role.FLEET_MANAGER])
    assert "Ruby <b>" not in text_of(client.get(LIST))


def test_a_list_of_thirty_takes_as_many_queries_as_one_of_three(client, people, now, monkeypatch):
    monkeypatch.setattr("inspections.views.questions.A_PAGE", 25)
    signed.edition()
    client.force_login(people[Role.FLEET_MANAGER])
    counts = []
    for many in (3, 27):
        for n in range(many):
            signed.sign(CartFactory(tyres=True), "daily", by=StaffFactory(), at=now - timedelta(hours=n + 1))
        counts.append(queries_of(client, LIST))
    assert counts[0] == counts[1]
    assert "25 of 25 walk-rounds" in text_of(client.get(LIST))
    assert "5 of 5 walk-rounds" in text_of(client.get(f"{LIST}?page=2"))


@pytest.fixture
def habit(hand, now):
    """Twenty odometers that end in nought, and no walk-round of anybody else: the newest two."""
    signed.edition()
    cart = CartFactory(tyres=True)
    walks = [signed.sign(cart, "daily", by=hand, at=now - timedelta(days=20 - day)) for day in range(21)]
    return walks[-2:]


def asked(walk, code, rules=RULES):
    row = WalkRound.objects.select_related("cart", "author").get(pk=walk.pk)
    return next(one for one in questions_of([row], rules=rules)[row.pk] if one.sign.code == code)


def test_a_habit_put_to_rest_rests_for_that_person(client, people, habit, now):
    before, last = habit
    rest(before, people[Role.FLEET_MANAGER], now, code="round")
    assert asked(last, "round").rest is not None
    assert asked(last, "pace").rest is None
    client.force_login(people[Role.WORKSHOP_MANAGER])
    page = text_of(client.get(page_of(last)))
    assert f'at <a href="{page_of(before)}">another walk-round</a> of this person' in page


def put_to_rest(walk, at, by):
    RestedQuestion.objects.create(
        walk_round=walk, code="round", question="?", words="Asked.", rested_at=at, rested_by=by
    )


def test_a_habit_is_asked_about_again_after_ninety_days_and_of_others_at_once(people, hand, now):
    """By a yard's own figures, by which three odometers that end in nought are enough."""
    soon = Rules(round_least=3, chance=Fraction(1, 10))
    signed.edition()
    carts, other = [CartFactory(tyres=True), CartFactory(tyres=True)], StaffFactory()
    first, second, last = [
        signed.sign(carts[0], "daily", by=hand, at=now - timedelta(days=n)) for n in (2, 1, 0)
    ]
    *_, of_another = [signed.sign(carts[1], "daily", by=other, at=now - timedelta(days=n)) for n in (2, 1, 0)]
    put_to_rest(first, now - timedelta(days=91), people[Role.FLEET_MANAGER])
    assert asked(last, "round", soon).rest is None
    put_to_rest(second, now - timedelta(days=89), people[Role.FLEET_MANAGER])
    assert asked(last, "round", soon).rest is not None
    rows = list(WalkRound.objects.select_related("cart", "author").filter(pk__in=[last.pk, of_another.pk]))
    found = questions_of(rows, rules=soon)[of_another.pk]
    assert next(one for one in found if one.sign.code == "round").rest is None


def test_on_one_page_it_rests_for_the_older_and_not_for_the_newer(people, hand, now):
    soon = Rules(round_least=3, chance=Fraction(1, 10))
    signed.edition()
    cart = CartFactory(tyres=True)
    first, _, old, _, new = [
        signed.sign(cart, "daily", by=hand, at=now - timedelta(days=n)) for n in (101, 40, 30, 1, 0)
    ]
    put_to_rest(first, now - timedelta(days=100), people[Role.FLEET_MANAGER])
    rows = list(WalkRound.objects.select_related("cart", "author").filter(pk__in=[old.pk, new.pk]))
    found = questions_of(rows, rules=soon)
    rests = {
        one.pk: next(asked.rest for asked in found[one.pk] if asked.sign.code == "round")
        for one in (old, new)
    }
    assert (rests[old.pk] is not None, rests[new.pk]) == (True, None)
    once = questions_of(rows, once_a_person=True, rules=soon)
    assert [any(asked.sign.code == "round" for asked in once[one.pk]) for one in (old, new)] == [False, True]


def test_a_question_about_one_walk_round_rests_for_that_one_alone(people, walk, hand, now):
    other = signed.sign(walk.cart, "daily", by=hand, at=now)
    rest(walk, people[Role.FLEET_MANAGER], now)
    rows = WalkRound.objects.select_related("cart", "author").filter(pk__in=[walk.pk, other.pk])
    found = questions_of(list(rows))
    assert [found[one.pk][0].rest is None for one in (walk, other)] == [False, True]


@pytest.mark.parametrize(
    ("changed", "rule"),
    [
        pytest.param({"words": " \n"}, "inspections_restedquestion_in_words", id="nothing said"),
        pytest.param({"code": "pace"}, "inspections_restedquestion_once", id="put to rest twice"),
    ],
)
def test_the_database_itself_refuses(changed, rule, people, walk, now):
    rest(walk, people[Role.FLEET_MANAGER], now)
    row = {
        "code": "order",
        "words": "Asked.",
        "question": "?",
        "rested_at": now,
        "rested_by": people[Role.FITTER],
    }
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        RestedQuestion.objects.create(walk_round=walk, **(row | changed))


def test_the_questions_are_saved_beyond_the_page_shown(client, people, now, monkeypatch):
    monkeypatch.setattr("inspections.views.questions.A_PAGE", 2)
    signed.edition()
    walks = [
        signed.sign(CartFactory(tyres=True), "daily", by=StaffFactory(), at=now - timedelta(hours=n + 1))
        for n in range(4)
    ]
    rest(walks[0], people[Role.FLEET_MANAGER], now)
    client.force_login(people[Role.WORKSHOP_MANAGER])
    rows = saved(client, LIST, page="2")
    assert [row["Cart"] for row in rows] == [walk.cart.fleet_number for walk in walks[1:]]
    assert all(row["Worth asking"].startswith(QUESTION) for row in rows)
    assert rows[0]["Put to rest by"] == ""
    [first, *others] = saved(client, LIST, show="all")
    assert (first["Cart"], first["Found out"]) == (walks[0].cart.fleet_number, FOUND_OUT)
    assert first["Put to rest by"] == people[Role.FLEET_MANAGER].full_name
    assert others == rows
    monkeypatch.setattr("inspections.views.questions.A_FILE", 2)
    assert len(saved(client, LIST, show="all")) == 2
    assert "Of the newest 2 walk-rounds." in text_of(client.get(LIST))


@pytest.mark.parametrize("role", list(Role))
def test_the_file_of_questions_is_for_managers_and_not_about_their_own(role, client, people, walk, now):
    client.force_login(people[role])
    if role not in MANAGERS:
        assert client.get(LIST, {"as": "csv"}).status_code == 403
        return
    signed.sign(CartFactory(tyres=True), "daily", by=people[role], at=now - timedelta(minutes=5))
    assert [row["Cart"] for row in saved(client, LIST)] == [walk.cart.fleet_number]
