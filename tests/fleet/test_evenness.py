"""A flow and evenness test: values, then their figures, then the signature; the defect it tells; its list, file and picture."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from fleet.actions.locks import AgainstARule
from fleet.actions.spraying import FiguresDoNotHold, NotDoneYet, record_evenness
from fleet.models.defects import Defect
from fleet.models.evenness import EvennessTest
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.factories.spraying import EvennessTestFactory, SpraySheetFactory
from tests.pages import queries_of, saved, text_of, typed_moment

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
GOOD, ONE_OUT = (40, 40, 40, 40), (40, 40, 40, 32)


def caught(sheet, litres=GOOD):
    return {head.pk: (Decimal(one), Decimal(15)) for head, one in zip(sheet.heads.all(), litres, strict=True)}


def record(by, at, *, sheet=None, litres=GOOD, **changed):
    sheet = sheet or SpraySheetFactory()
    said = {"done_at": at - HOUR, "pressure_kpa": Decimal(200)} | changed
    return record_evenness(sheet=sheet, caught=caught(sheet, litres), by=by, at=at, **said)


def typed(litres=GOOD, **changed):
    values = {"done_at": typed_moment(timezone.now() - HOUR), "pressure_kpa": "200", "words": ""}
    for place, one in enumerate(litres, start=1):
        values |= {f"litres_{place}": str(one), f"seconds_{place}": "15"}
    return values | changed


def page_of(cart, name="evenness_record"):
    return reverse(f"fleet:{name}", args=[cart.pk])


def test_the_figures_are_shown_before_it_is_signed(browser):
    cart = SpraySheetFactory().cart
    shown = browser.post(page_of(cart), typed(ONE_OUT))
    assert shown.status_code == 200
    assert not EvennessTest.objects.exists()
    assert "92.1 %" in text_of(shown)
    assert "Clean it and measure again" in text_of(shown)
    signed = browser.post(page_of(cart), typed(ONE_OUT, sign="yes", shown=shown.context["mark"]), follow=True)
    [test] = EvennessTest.objects.all()
    assert signed.redirect_chain[-1][0] == reverse("fleet:evenness_detail", args=[test.pk])
    assert "It told a defect" in text_of(signed)


def test_a_value_changed_after_the_figures_is_not_signed(browser):
    cart = SpraySheetFactory().cart
    mark = browser.post(page_of(cart), typed(ONE_OUT)).context["mark"]
    again = browser.post(page_of(cart), typed(GOOD, sign="yes", shown=mark))
    assert "A value was changed after its figures were shown." in text_of(again)
    assert not EvennessTest.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"pressure_kpa": "0"}, "Above zero."),
        ({"seconds_1": ""}, "Give both, or leave both empty."),
        ({"seconds_1": "0"}, "Above zero."),
        ({"litres_1": "-1"}, "Not below zero."),
        ({f"litres_{n}": "0" for n in range(1, 5)}, "Evenness wants at least one cup with water in it."),
        ({f"{what}_{n}": "" for n in range(1, 5) for what in ("litres", "seconds")}, "at least one head"),
    ],
)
def test_each_fault_comes_back_with_what_was_typed(browser, wrong, sentence):
    values = typed(**wrong)
    answer = browser.post(page_of(SpraySheetFactory().cart), values)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert {name: str(answer.context["form"][name].value()) for name in values} == values


def test_a_head_out_of_tolerance_tells_one_defect_until_it_is_closed(people, at):
    fitter, sheet = people[Role.FITTER], SpraySheetFactory()
    record(fitter, at, sheet=sheet)
    assert not Defect.objects.exists()
    first = record(fitter, at + HOUR, sheet=sheet, litres=ONE_OUT)
    [defect] = Defect.objects.all()
    assert (defect.source_kind, defect.source_id) == ("evenness_test", first.pk)
    assert "Side right" in defect.words
    assert defect.title == "1 spray head is 10 % or more off"
    record(fitter, at + 2 * HOUR, sheet=sheet, litres=ONE_OUT)
    assert Defect.objects.count() == 1
    Defect.objects.update(state="no_fault_found", closed_at=at)
    record(fitter, at + 3 * HOUR, sheet=sheet, litres=ONE_OUT)
    assert Defect.objects.count() == 2


def test_the_yards_own_tolerance_counts_and_stays_with_the_test(people, at, settings):
    from people.yard import yard_policy  # noqa: PLC0415

    settings.YARD_HEAD_TOLERANCE_PCT = 25
    yard_policy.cache_clear()
    try:
        test = record(people[Role.FITTER], at, litres=ONE_OUT)
    finally:
        yard_policy.cache_clear()
    assert not Defect.objects.exists()
    assert test.tolerance_pct == 25
    assert not test.result().is_out


def test_the_same_again_is_the_first_and_another_at_that_time_is_refused(people, at):
    fitter, sheet = people[Role.FITTER], SpraySheetFactory()
    first = record(fitter, at, sheet=sheet)
    assert record(fitter, at, sheet=sheet) == first
    with pytest.raises(AgainstARule, match="is on record for that time"):
        record(fitter, at, sheet=sheet, litres=ONE_OUT)
    with pytest.raises(AgainstARule, match="is on record for that time"):
        record(fitter, at, sheet=sheet, pressure_kpa=Decimal(150))
    assert Entry.objects.filter(event="fleet.heads.tested").count() == 1


def test_who_may_not_when_not_and_what_cannot_be(people, at):
    with pytest.raises(NotAllowed):
        record(people[Role.HIRE_DESK], at)
    with pytest.raises(NotDoneYet):
        record(people[Role.FITTER], at, done_at=at + HOUR)
    with pytest.raises(FiguresDoNotHold, match="The pressure has to be above zero"):
        record(people[Role.FITTER], at, pressure_kpa=Decimal(0))
    with pytest.raises(FiguresDoNotHold, match="a head that these spray figures do not have"):
        record_evenness(
            sheet=SpraySheetFactory(), done_at=at - HOUR, pressure_kpa=Decimal(200), caught=caught(SpraySheetFactory()),
            by=people[Role.FITTER], at=at,
        )  # fmt: skip


def test_a_cart_without_figures_is_sent_to_record_them(browser):
    cart = CartFactory()
    page = text_of(browser.get(page_of(cart), follow=True))
    assert "Record the cart’s spray figures first" in page
    assert "No test of its heads is on record." in text_of(browser.get(page_of(cart, "evenness_list")))
    assert browser.get(page_of(cart, "evenness_trend")).status_code == 404


def test_the_list_its_file_and_its_picture(browser):
    cart = CartFactory()
    for n, litres in enumerate((GOOD, ONE_OUT)):
        EvennessTestFactory(cart=cart, litres=litres, done_at=timezone.now() - timedelta(days=9 - n))
    page = text_of(browser.get(page_of(cart, "evenness_list")))
    assert page.index("92.1 %") < page.index("100.0 %")
    rows = saved(browser, page_of(cart, "evenness_list"))
    assert len(rows) == 8
    assert {row["Off new %"] for row in rows} == {"0.0", "-20.0"}
    picture = browser.get(page_of(cart, "evenness_trend"))
    assert picture["Content-Type"] == "image/svg+xml"
    assert picture.content == browser.get(page_of(cart, "evenness_trend")).content
    again = browser.get(page_of(cart, "evenness_trend"), headers={"if-none-match": picture["ETag"]})
    assert again.status_code == 304


def test_the_list_asks_the_same_for_three_and_thirty(browser):
    few, many = CartFactory(), CartFactory()
    for cart, count in ((few, 3), (many, 30)):
        for n in range(count):
            EvennessTestFactory(cart=cart, done_at=timezone.now() - timedelta(days=n + 1))
    assert queries_of(browser, page_of(few, "evenness_list")) == queries_of(
        browser, page_of(many, "evenness_list")
    )


def test_the_default_tolerance_is_the_published_one():
    assert settings.YARD_HEAD_TOLERANCE_PCT == 10
