"""The pages of passes: entered by phone with what was typed kept, answered by the manager named alone, and counted by month."""

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models.standing import Pass
from fleet.passing import NO_SECOND_LOOK, PASS_REASONS
from people.roles import AT_THE_GATE, MANAGERS, Role
from tests.factories.fleet import JOINED_AT, PassFactory
from tests.factories.people import StaffFactory
from tests.factories.standing import SpokenPassFactory
from tests.fleet.passing import DAY, HOUR, MINUTE, late_defect
from tests.pages import queries_of, saved, text_of, typed_moment

pytestmark = pytest.mark.django_db
# Passes of the factory are given on 7 March 2026 by the yard's clock.
MARCH = {"month": "2026-03"}


@pytest.fixture
def manager(people):
    return people[Role.WORKSHOP_MANAGER]


def enter_url(defect):
    page = reverse("fleet:pass_enter", args=[defect.cart_id])
    return f"{page}?rule=defect.late&kind=defect&record={defect.pk}"


def typed_by(manager, **changes):
    now = timezone.now()
    return {
        "given_by": manager.pk, "spoken_at": typed_moment(now - MINUTE), "reason": PASS_REASONS[2], "words": "Swap at night",
        "condition_words": "By day only", "done_instead": "Second mirror", "told_words": "Driver",
        "ends_at": typed_moment(now + 2 * DAY), "second_person": "",
    } | changes  # fmt: skip


def spoken(manager, **said):
    """A pass by phone that waits for the manager, entered an hour ago."""
    return SpokenPassFactory(given_by=manager, given_at=timezone.now() - HOUR, **said)


def test_a_yard_hand_enters_what_a_manager_said(people, manager, sign_in):
    defect, browser = late_defect(timezone.now()), sign_in(people[Role.YARD_HAND])
    page = text_of(browser.get(reverse("fleet:cart_detail", args=[defect.cart_id])))
    assert "A manager passed it by phone" in page
    assert ">Pass by authority</a>" not in page
    assert "within 12 hours" in text_of(browser.get(enter_url(defect)))

    back = browser.post(enter_url(defect), typed_by(manager, spoken_at=typed_moment(timezone.now() + DAY)))
    assert back.status_code == 422
    assert back.context["form"].errors["spoken_at"] == ["That is still to come. When was it spoken?"]
    assert back.context["form"]["condition_words"].value() == "By day only"

    done = browser.post(enter_url(defect), typed_by(manager), follow=True)
    assert f"{manager.full_name} has to confirm it" in text_of(done)
    assert "to be confirmed" in text_of(done)
    given = Pass.objects.get()
    assert (given.given_by, given.entered_by) == (manager, people[Role.YARD_HAND])


def test_only_managers_who_may_pass_it_are_offered_and_not_oneself(people, manager, sign_in):
    defect = late_defect(timezone.now())
    browser = sign_in(manager)
    offered = browser.get(enter_url(defect)).context["form"].fields["given_by"].queryset
    assert set(offered) == {people[Role.FLEET_MANAGER]}
    # Passed once before: now only the fleet manager may.
    PassFactory(defect=defect, closed_at=timezone.now(), closed_by=manager)
    offered = sign_in(people[Role.YARD_HAND]).get(enter_url(defect)).context["form"].fields["given_by"]
    assert set(offered.queryset) == {people[Role.FLEET_MANAGER]}


@pytest.mark.parametrize("role", sorted(Role))
def test_whoever_may_pass_it_signs_and_the_others_at_the_gate_enter(people, sign_in, role):
    page = text_of(
        sign_in(people[role]).get(reverse("fleet:cart_detail", args=[late_defect(timezone.now()).cart_id]))
    )
    assert (">Pass by authority</a>" in page) is (role in MANAGERS)
    assert ("passed it by phone</a>" in page) is (role in AT_THE_GATE - MANAGERS)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"reason": NO_SECOND_LOOK}, "second_person"),
        ({"reason": NO_SECOND_LOOK, "second_person": "outsider"}, "second_name"),
        ({"second_name": "Ida Brandt"}, "second_firm"),
    ],
)
def test_a_second_name_left_out_comes_back_at_its_field(people, manager, sign_in, changes, field):
    back = sign_in(people[Role.HIRE_DESK]).post(
        enter_url(late_defect(timezone.now())), typed_by(manager, **changes)
    )
    assert back.status_code == 422
    assert list(back.context["form"].errors) == [field]
    assert not Pass.objects.exists()


def test_a_second_name_of_ours_or_from_outside_is_kept_with_the_pass(people, manager, sign_in):
    browser, fitter = sign_in(people[Role.HIRE_DESK]), people[Role.FITTER]
    outside = {"second_person": "outsider", "second_name": "Ida Brandt", "second_firm": "Saltbush Tyres"}
    for second, words in (
        ({"second_person": fitter.pk}, fitter.full_name),
        (outside, "Ida Brandt, Saltbush Tyres"),
    ):
        defect = late_defect(timezone.now())
        browser.post(enter_url(defect), typed_by(manager, reason=NO_SECOND_LOOK, **second))
        given = Pass.objects.get(record_id=defect.pk)
        assert given.second_words == words
        assert words in text_of(browser.get(reverse("fleet:pass_detail", args=[given.pk])))


def test_the_manager_named_confirms_with_one_press_and_nobody_else_is_asked(people, manager, sign_in):
    given = spoken(manager)
    page = reverse("fleet:pass_detail", args=[given.pk])
    for role in set(Role) - {Role.WORKSHOP_MANAGER}:
        assert "I passed this" not in text_of(sign_in(people[role]).get(page))
    refused = sign_in(people[Role.FLEET_MANAGER]).post(
        reverse("fleet:pass_confirm", args=[given.pk]), follow=True
    )
    assert f"Only {manager.full_name} can say" in text_of(refused)

    browser = sign_in(manager)
    for address in (page, reverse("fleet:cart_detail", args=[given.cart_id])):
        assert "I did not say this" in text_of(browser.get(address))
    done = text_of(browser.post(reverse("fleet:pass_confirm", args=[given.pk]), follow=True))
    assert "Confirmed: you passed this" in done
    assert "I did not say this" not in done


def test_disowned_it_says_so_and_is_closed(manager, sign_in):
    given = spoken(manager)
    done = text_of(sign_in(manager).post(reverse("fleet:pass_disown", args=[given.pk]), follow=True))
    assert "This was never given" in done
    assert Pass.objects.get().closed_at is not None


def test_past_its_hours_every_page_says_by_phone_not_confirmed(people, manager, sign_in):
    given = spoken(manager, confirm_by_at=timezone.now() - MINUTE)
    browser = sign_in(people[Role.FLEET_MANAGER])
    for address in (
        reverse("fleet:pass_detail", args=[given.pk]),
        reverse("fleet:cart_detail", args=[given.cart_id]),
        reverse("fleet:pass_list"),
        "/workshop/holds/",
    ):
        assert "y phone, not confirmed" in text_of(browser.get(address))


def month_of_passes(manager, other):
    """Two rules and two people in March 2026; one pass just before and one just after."""
    given = JOINED_AT + 60 * DAY
    closed = {"closed_at": given + HOUR, "closed_by": manager}
    PassFactory(given_by=manager, **closed)
    SpokenPassFactory(given_by=manager, confirmed_at=given + HOUR, **closed)
    SpokenPassFactory(
        given_by=manager,
        confirmed_at=given + 12 * HOUR - 10 * MINUTE,
        closed_at=given + 4 * DAY,
        closed_by=manager,
    )
    SpokenPassFactory(given_by=manager)
    SpokenPassFactory(given_by=manager, disowned_at=given + HOUR, **closed)
    PassFactory(given_by=manager, rule="service.overdue", **closed)
    PassFactory(given_by=other, **closed)
    for moment in (datetime(2026, 2, 28, 13, 29, tzinfo=UTC), datetime(2026, 3, 31, 13, 30, tzinfo=UTC)):
        PassFactory(given_by=other, given_at=moment, rule="tyre.change_out")


def test_the_month_is_counted_by_person_and_rule_and_each_figure_leads_to_its_passes(people, sign_in):
    manager = StaffFactory(role="workshop_manager", full_name="Bruna Kitto")
    other = StaffFactory(role="fleet_manager", full_name="Noor Halloran")
    month_of_passes(manager, other)
    browser = sign_in(people[Role.FLEET_MANAGER])

    answer = browser.get(reverse("fleet:pass_count"), MARCH)

    rows = {
        (row.person, row.rule): {cell.which: cell.count for cell in row.cells}
        for row in answer.context["rows"]
    }
    assert rows == {
        ("Bruna Kitto", "defect.late"): {
            "all": 4, "phone": 3, "late": 1, "unconfirmed": 1, "unclosed": 2, "disowned": 1,
        },
        ("Bruna Kitto", "service.overdue"): {
            "all": 1, "phone": 0, "late": 0, "unconfirmed": 0, "unclosed": 0, "disowned": 0,
        },
        ("Noor Halloran", "defect.late"): {
            "all": 1, "phone": 0, "late": 0, "unconfirmed": 0, "unclosed": 0, "disowned": 0,
        },
    }  # fmt: skip
    for row in answer.context["rows"]:
        for cell in row.cells:
            query = MARCH | {"by": row.by, "rule": row.rule, "which": cell.which}
            found = browser.get(reverse("fleet:pass_list"), query).context["page"].object_list
            assert len(found) == cell.count, (row.person, row.rule, cell.which)
    [first, *_] = saved(browser, reverse("fleet:pass_count"), **MARCH)
    assert (first["Person"], first["Passed"], first["Never given"]) == ("Bruna Kitto", "4", "1")
    listed = saved(browser, reverse("fleet:pass_list"), **MARCH)
    assert len(listed) == 7
    assert {row["Rule"] for row in listed} == {"Defect past its date", "Service past its tolerance"}


def test_a_month_that_is_none_is_the_present_one_and_what_is_not_there_is_404(people, sign_in):
    browser, count = sign_in(people[Role.WORKSHOP_MANAGER]), reverse("fleet:pass_count")
    for month in ("2026-13", "x", "0001-01", ""):
        assert "Nothing was passed" in text_of(browser.get(count, {"month": month}))
    for query in ({"by": "x"}, {"by": "0" * 32}, {"which": "some"}):
        assert browser.get(reverse("fleet:pass_list"), query).status_code == 404


def test_thirty_cost_as_many_queries_as_three(people, sign_in):
    browser = sign_in(people[Role.FLEET_MANAGER])
    addresses = [
        f"{reverse(name)}?month=2026-03{as_file}"
        for name in ("fleet:pass_count", "fleet:pass_list")
        for as_file in ("", "&as=csv")
    ]

    def more(count):
        for _ in range(count):
            SpokenPassFactory(second_person=StaffFactory())

    more(3)
    few = [queries_of(browser, address) for address in addresses]
    more(27)
    assert [queries_of(browser, address) for address in addresses] == few


def test_the_list_leads_managers_alone_to_the_count(people, sign_in):
    for role, leads in ((Role.WORKSHOP_MANAGER, True), (Role.FLEET_MANAGER, True), (Role.FITTER, False)):
        page = text_of(sign_in(people[role]).get("/workshop/holds/"))
        assert (reverse("fleet:pass_count") in page) is leads


def test_the_lists_page_says_who_else_stands_for_it(manager, sign_in):
    SpokenPassFactory(given_by=manager, second_name="Ida Brandt", second_firm="Saltbush Tyres", found="=1+1")
    [row] = saved(sign_in(manager), reverse("fleet:pass_list"))
    assert (row["Second name"], row["What was found"]) == ("Ida Brandt, Saltbush Tyres", "'=1+1")
    assert datetime.fromisoformat(row["Given"]) - datetime.fromisoformat(row["Spoken"]) == timedelta(
        minutes=10
    )
