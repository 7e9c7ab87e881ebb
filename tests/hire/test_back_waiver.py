"""Damage on a hire with the damage waiver and its excess: the lesser of the two is charged, and its working shown."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.actions import back as acts
from hire.actions import money
from hire.back_terms import back_terms_from
from hire.charging.back import Typed
from tests.factories.back import back_line
from tests.factories.money import BODY, AgreedTermsFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db
WAIVER = {"cover": "waiver", "waiver_day": "12", "excess": "2500", "waiver_excludes": "Tyres, glass"}


@pytest.fixture
def found(db):
    """A cart that is back with a dent, on a hire with the waiver: its line and the dent's key."""
    line, dent = back_line(at=timezone.now())
    AgreedTermsFactory(line=line, body=BODY | WAIVER, agreed_at=timezone.now() - timedelta(days=1))
    return line, f"defect-{dent.pk}"


@pytest.mark.parametrize(
    ("amount", "is_waived", "told"),
    [
        (
            "3100", True,
            ("2500.00", "3,100.00, of which the hirer pays the excess of 2,500.00 and the damage waiver takes on 600.00."),
        ),
        ("240.50", True, ("240.50", "240.50, within the excess of 2,500.00 that the hirer pays each time.")),
        ("3100", False, ("3100.00", "New side board. ")),
    ],
)  # fmt: skip
def test_the_lesser_is_charged_and_the_docket_says_how(found, desk, amount, is_waived, told):
    (line, key), (charged, working) = found, told
    decision = acts.charge_found(
        line=line, key=key, typed=Typed(amount=Decimal(amount), is_waived=is_waived), words="New side board", by=desk,
        at=timezone.now(),
    )  # fmt: skip
    assert decision.amount == Decimal(charged)
    docket = money.make_docket(line=line, by=desk, at=timezone.now())
    [damage] = [one for one in docket.body["lines"] if one["key"].startswith("beside")]
    assert damage["amount"] == charged
    assert working in damage["working"]


def test_no_excess_that_was_not_agreed_is_taken_off(found, desk):
    line, key = found
    AgreedTermsFactory(line=line, body=BODY | WAIVER | {"excess": ""}, agreed_at=timezone.now())
    typed = Typed(amount=Decimal(3100), is_waived=True, excess=Decimal(1))
    assert (
        acts.charge_found(line=line, key=key, typed=typed, words="x", by=desk, at=timezone.now()).amount
        == 3100
    )


def test_the_waiver_lets_it_go_as_a_whole_only_without_an_excess(found, desk):
    line, key = found
    with pytest.raises(acts.ExcessFirst, match=r"pays the first 2,500.00 each time.*let it go for another"):
        acts.let_go_found(line=line, key=key, reason="waiver", by=desk, at=timezone.now())
    AgreedTermsFactory(line=line, body=BODY | WAIVER | {"excess": "0"}, agreed_at=timezone.now())
    gone = acts.let_go_found(line=line, key=key, reason="waiver", by=desk, at=timezone.now())
    assert gone.get_reason_display() == "The damage waiver covers it"


def test_the_desk_is_offered_the_excess_and_no_whole_waiver(found, desk, client):
    line, key = found
    client.force_login(desk)
    address = reverse("hire:back_decide", args=[line.pk, key])
    answer = client.get(address)
    assert answer.context["charging"]["is_waived"].value() is True
    assert "the amount, or the excess of 2,500.00. It leaves out: Tyres, glass" in text_of(answer)
    assert "waiver" not in dict(answer.context["letting_go"].fields["reason"].choices)
    assert client.post(address, {"outcome": "let_go", "reason": "waiver"}).status_code == 422
    typed = {"outcome": "charged", "amount": "3100", "words": "New side board", "is_waived": "on"}
    assert "Damage, rear is charged: 2,500.00." in text_of(client.post(address, typed, follow=True))


def test_a_hire_without_the_waiver_has_no_excess(found, desk, client):
    line, key = found
    AgreedTermsFactory(
        line=line,
        body=BODY | {"cover": "own", "own_cover": "Ironbark Mutual", "excess": "2500"},
        agreed_at=timezone.now(),
    )
    client.force_login(desk)
    answer = client.get(reverse("hire:back_decide", args=[line.pk, key]))
    assert "is_waived" not in answer.context["charging"].fields
    assert "waiver" in dict(answer.context["letting_go"].fields["reason"].choices)
    assert back_terms_from({"excess": "2500"}).excess is None
