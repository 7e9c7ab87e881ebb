"""The job sheet on the tablet: what it shows, on and off, a part, handing back; on paper; and an extinguisher's exchange."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from fleet.models.defects import Defect
from inspections.editions import checks_of_edition
from people.roles import Role
from servicing.models.jobs import PartUsed, RepairTime, TimeOnJob
from servicing.tasks import learn_repair_times, tell_ended_fixes
from tests.factories.fleet import CartFactory, DefectFactory, ExtinguisherFactory, TyreFittingFactory
from tests.factories.inspections import edition
from tests.pages import queries_of, small_photo, text_of, today

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


def job_of(defect, act=""):
    return f"/workshop/{defect.pk}/job/{act}{'/' if act else ''}"


def version_of(defect):
    return Defect.objects.get(pk=defect.pk).version


def test_a_job_goes_from_on_to_handed_back_on_its_sheet(people, sign_in):
    client = sign_in(people[Role.FITTER])
    defect, other = DefectFactory(grade="watch", state="assessed"), DefectFactory(state="in_repair")

    on_other = client.post(job_of(other, "on"), {"version": 1}, follow=True)
    on = text_of(client.post(job_of(defect, "on"), {"version": 1}, follow=True))
    part = {"part_id": uuid.uuid4(), "words": "Suction hose", "quantity": "2", "unit_cost": "42.105"}
    refused = client.post(job_of(defect, "part"), part)
    client.post(job_of(defect, "part"), part | {"unit_cost": "42.10"})
    sheet = text_of(client.get(job_of(defect)))
    done = client.post(
        job_of(defect, "done"),
        {"version": version_of(defect), "words": "New hose.", "photos": small_photo(),
         "fix_ends_on": (today() + 9 * DAY).isoformat()},
        follow=True,
    )  # fmt: skip

    assert "Come off the job" in text_of(on_other)
    assert f"You came off {other}." in on
    assert refused.status_code == 422
    assert 'value="42.105"' in refused.content.decode()
    assert "Suction hose" in sheet
    assert "84.20" in sheet
    assert "waits for a second look by somebody else" in text_of(done)
    defect.refresh_from_db()
    assert (defect.state, defect.fix_ends_on) == ("repaired", today() + 9 * DAY)
    assert len(done.context["sheet"].photos_after) == 1
    assert not TimeOnJob.objects.filter(ended_at=None).exists()


def test_handing_back_without_words_keeps_the_photo_and_says_so(people, sign_in):
    defect = DefectFactory(state="in_repair")

    answer = sign_in(people[Role.FITTER]).post(
        job_of(defect, "done"), {"version": 1, "words": " ", "photos": small_photo()}
    )

    assert answer.status_code == 422
    assert "Photos that came" in text_of(answer)


def test_a_sheet_from_before_a_change_goes_on_no_job_and_the_next_press_does(people, sign_in):
    client, defect = sign_in(people[Role.FITTER]), DefectFactory(state="in_repair", version=7)

    answer = client.post(job_of(defect, "on"), {"version": 6})

    assert answer.status_code == 422
    assert "was changed by somebody else meanwhile" in text_of(answer)
    assert 'name="version" value="7"' in answer.content.decode()


def test_the_sheet_says_what_the_check_wants_and_what_the_repair_is_expected_to_take(people, sign_in):
    measured = next(
        check for check in edition_checks() if check.answer == "measure" and check.limit_for("au")
    )
    defect = DefectFactory(state="in_repair", grade="watch", check_key=measured.key)
    RepairTime.objects.create(
        check_key=measured.key, grade="watch", expected_minutes=50, repairs=7, low_minutes=40, high_minutes=75,
        made_at=timezone.now(),
    )  # fmt: skip

    page = text_of(sign_in(people[Role.FITTER]).get(job_of(defect)))

    assert measured.limit_for("au").words in page.replace("&lt;", "<")
    assert "from 7 past repairs of this check here, the middle half 40" in page


def edition_checks():
    return checks_of_edition(edition())


def test_a_job_on_a_wheel_or_an_extinguisher_leads_to_what_is_exchanged(people, sign_in):
    cart = CartFactory()
    fitting, item = TyreFittingFactory(cart=cart), ExtinguisherFactory(cart=cart)
    client = sign_in(people[Role.FITTER])
    wheel = DefectFactory(cart=cart, place=fitting.wheel_position.code, state="in_repair")
    fire = DefectFactory(cart=cart, place="", check_key="extinguisher-gauge", state="in_repair")

    assert f"/tyre-fittings/{fitting.pk}/" in text_of(client.get(job_of(wheel)))
    assert f"/extinguishers/{item.pk}/exchange/" in text_of(client.get(job_of(fire)))
    assert "To exchange" not in text_of(client.get(job_of(DefectFactory(state="in_repair", place=""))))


def test_a_part_put_down_in_error_is_struck_out_on_the_sheet(people, sign_in):
    client, defect = sign_in(people[Role.FITTER]), DefectFactory(state="in_repair")
    part = PartUsed.objects.create(
        defect=defect, words="Wrong belt", unit_cost=Decimal(10), used_at=timezone.now(),
        used_by=people[Role.FITTER],
    )  # fmt: skip

    page = text_of(client.post(f"/workshop/parts/{part.pk}/strike/", follow=True))

    assert "<s>Wrong belt</s>, struck out" in page
    assert "In all: <b>0.00</b>" in page


def test_ten_job_sheets_on_paper_cost_as_many_queries_as_two(people, sign_in):
    client = sign_in(people[Role.FITTER])

    def cost(count):
        made = [DefectFactory(state="in_repair", check_key="hose-weeps") for _ in range(count)]
        for defect in made:
            PartUsed.objects.create(
                defect=defect, words="Hose", used_at=timezone.now(), used_by=people[Role.FITTER]
            )
        query = "&".join(f"defect={one.pk}" for one in made)
        return queries_of(client, f"/workshop/job-sheets/?{query}")

    assert cost(2) == cost(10)
    assert "No job is chosen." in text_of(client.get("/workshop/job-sheets/"))
    assert client.get("/workshop/job-sheets/?defect=x").status_code == 404


def test_an_extinguisher_is_exchanged_on_its_page_and_a_bad_spare_comes_back_in_words(people, sign_in):
    client, cart = sign_in(people[Role.FITTER]), CartFactory()
    old = ExtinguisherFactory(cart=cart, bracket="Left rear")
    spare = ExtinguisherFactory(cart=None, made_on=today() - 30 * DAY)
    used = ExtinguisherFactory(cart=None, is_discharged=True)
    page = f"/extinguishers/{old.pk}/exchange/"

    refused = client.post(page, {"spare": used.pk, "condemned_words": "Pitted"})
    done = client.post(page, {"spare": spare.pk, "condemned_words": "Pitted"}, follow=True)

    assert refused.status_code == 422
    assert "is used or out of the green" in text_of(refused)
    assert 'value="Pitted"' in refused.content.decode()
    assert f"{spare.serial} is on {cart.fleet_number}" in text_of(done)
    shelf = text_of(client.get(f"/extinguishers/{old.pk}/"))
    assert "Condemned" in shelf
    assert "Pitted" in shelf
    assert "Record a service" not in shelf


def test_a_spare_is_put_on_the_shelf_and_one_on_a_cart_is_not(people, sign_in):
    client, on_cart = sign_in(people[Role.FITTER]), ExtinguisherFactory(cart=CartFactory())
    typed = {"agent": "dry_chemical", "size_kg": "9", "made_on": "2025-03-01"}

    refused = client.post("/extinguishers/spare/", typed | {"serial": on_cart.serial})
    done = text_of(client.post("/extinguishers/spare/", typed | {"serial": "sp 77"}, follow=True))

    assert refused.status_code == 422
    assert "is on record on cart" in text_of(refused)
    assert "Extinguisher SP 77 is on the shelf." in done
    assert "Condemn it" in done


def test_an_ended_temporary_fix_is_told_by_the_round_once_and_by_a_press_before(people, sign_in):
    kept = {"grade": "watch", "state": "verified", "check_key": "hose-weeps"}
    over = DefectFactory(**kept, fix_ends_on=today() - DAY)
    early = DefectFactory(**kept, fix_ends_on=today() + 5 * DAY)

    tell_ended_fixes()
    tell_ended_fixes()
    page = text_of(sign_in(people[Role.FITTER]).get(f"/workshop/{early.pk}/"))
    answer = sign_in(people[Role.FITTER]).post(f"/workshop/{early.pk}/told-again/", follow=True)

    assert [one.source_id for one in Defect.objects.open().order_by("told_at")] == [over.pk, early.pk]
    assert "Tell it again now, to make it last" in page
    assert "is told again" in text_of(answer)
    assert "Only a temporary fix was made before." in text_of(answer)
    learn_repair_times()


def test_two_defects_that_are_the_same_name_each_other_on_their_pages(people, sign_in):
    client, cart = sign_in(people[Role.WORKSHOP_MANAGER]), CartFactory()
    first, second = (DefectFactory(cart=cart, grade="watch", title=title) for title in ("Weep", "Drip"))

    client.post(f"/workshop/{second.pk}/same/", {"version": 1, "other": first.pk})
    client.post(f"/workshop/{first.pk}/no-fault/", {"version": 1, "words": "Ran dry an hour."})

    assert "Told a second time as drip" in text_of(client.get(f"/workshop/{first.pk}/"))
    closed = text_of(client.get(f"/workshop/{second.pk}/"))
    assert "no fault was found in that one" in closed
    assert "the same as another" in closed


def test_putting_off_goes_through_the_page_and_shows_who_why_and_until_when(people, sign_in):
    client, defect = sign_in(people[Role.WORKSHOP_MANAGER]), DefectFactory(grade="watch")
    until = (today() + 5 * DAY).isoformat()

    refused = client.post(
        f"/workshop/{defect.pk}/put-off/", {"version": 1, "until": today(), "because": "Parts."}
    )
    page = text_of(
        client.post(
            f"/workshop/{defect.pk}/put-off/",
            {"version": 1, "until": until, "because": "Parts."},
            follow=True,
        )
    )

    assert refused.status_code == 422
    assert 'value="Parts."' in refused.content.decode()
    assert "Put off until" in page
    assert "because: Parts." in page
    assert "it is back in the queue on" in page
