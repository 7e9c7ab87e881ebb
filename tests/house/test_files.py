"""Tables as files: every table on a page has one, and whoever may read the page may save it, and nobody else."""

import csv
import html
import io
import re
import uuid
from datetime import timedelta
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.alerts.models import Alert
from fleet.models.equipment import ExtinguisherService
from hire.models.owners import HireIn
from people.roles import EVERYBODY, Role
from tests.factories.fleet import CartFactory, DocumentFactory
from tests.factories.hire import BookingFactory, LineFactory, OffHireFactory
from tests.factories.money import DocketFactory
from tests.factories.standing import MovePermitFactory
from tests.house.access_table import ROUTES
from tests.house.access_things import make_things

DAY = timedelta(days=1)
TEMPLATES = Path(__file__).parents[2] / "templates"
LINK = "components/csv_link.html"
OF_ITS_PAGE = "a part of a page that offers the file"
# Tables that have no file of their own, each with its reason.
WITHOUT = {
    "specimen.html": "samples of what a page is made of",
    "fleet/_rows.html": OF_ITS_PAGE,
    "fleet/_water_rows.html": "the newest few on the cart's page; the list of its tank has the file",
    "fleet/_spray_table.html": "on the driver's print too; the page of the spray figures has the file",
    "fleet/_evenness_rows.html": "the newest few on the cart's page; the list of its tests has the file",
    "fleet/_evenness.html": "of a test not signed yet too; once signed, its page has the file",
    "servicing/last_done.html": "a form to fill in; the services have the file",
    "servicing/_rows.html": OF_ITS_PAGE,
    "hire/_leaving.html": OF_ITS_PAGE,
    "hire/_out.html": OF_ITS_PAGE,
    "hire/_off_hired.html": OF_ITS_PAGE,
    "hire/_pencils.html": OF_ITS_PAGE,
    "hire/_runs.html": OF_ITS_PAGE,
    "hire/_undecided.html": OF_ITS_PAGE,
    "hire/_bookings.html": OF_ITS_PAGE,
    "hire/_daily_rows.html": "the newest of one hire; the list of them has the file",
    "hire/grid.html": "a drawing; the day sheet and the past hires have its hires",
    "hire/_back_station.html": OF_ITS_PAGE,
    "hire/_charge_lines.html": "the lines of a docket, which is a file; of a docket not made yet",
    "hire/docket_paper.html": "a paper",
    "hire/_quote_paper.html": "a paper; the page of the quote has the file",
    "hire/cab_card.html": "a paper; the dip table has the file",
    "hire/pack_index.html": "a list of the files it comes with, which are beside it as SHA256SUMS",
    "hire/pack_paper.html": "a paper",
    "hire/_papers.html": "a few papers of one hire, each a file itself",
    "hire/_cart_hires.html": "the next few and the last few; the day sheet and the past hires have the whole",
    "inspections/_cart_walk_rounds.html": "the newest few; the list it leads to has all of the cart's",
    "servicing/_cart_services.html": "what the coming weeks say of one cart; they have the file",
    "servicing/_job_sheet.html": "one job, which is printed",
}
# A page that shows its table to those who asked.
ASKED = {
    "hire:job_plan": "?area_m2=16000&area_pct=10&target_l_m2=0.75&passes=2&haul_km=3&haul_km_h=30&other_min=6&hours_a_day=10",
    "hire:booking_list": "?moves=yes",
    "fleet:pass_count": "?month=2026-03",
    "hire:enquiry": "?starts_at=2027-03-01T06:00&ends_at=2027-03-08T16:00&leaves_by=road&works_on=site",
}
# They show a few carts of the list of carts, whose file can be narrowed by the same words.
SOME_OF_A_LIST = {"home.html", "find.html"}
OFFERED = re.compile(r'href="(\?[^"]*\bas=csv\b[^"]*)"')


def _tables():
    for path in sorted(TEMPLATES.rglob("*.html")):
        text = path.read_text()
        if count := text.count("<table"):
            yield path.relative_to(TEMPLATES).as_posix(), count, text.count(LINK)


def test_every_table_has_a_file_or_a_reason():
    lacking = {name for name, tables, links in _tables() if links < tables}
    assert lacking == set(WITHOUT)


@pytest.mark.parametrize("name", [name for name, reason in WITHOUT.items() if reason == OF_ITS_PAGE])
def test_a_part_of_a_page_is_shown_by_pages_that_offer_the_file(name):
    shown = {path.relative_to(TEMPLATES).as_posix(): path.read_text() for path in TEMPLATES.rglob("*.html")}
    pages = {page for page, text in shown.items() if f'"{name}"' in text} - SOME_OF_A_LIST
    assert pages
    assert {page for page in pages if LINK not in shown[page]} == set()


@pytest.fixture
def offered(people, at, client):
    """(address of a page, query of a file it offers, who may open the page)."""
    things, found, now = make_things(people, at), [], timezone.now()
    DocumentFactory(cart_id=things["cart"])
    ExtinguisherService.objects.create(
        extinguisher_id=things["extinguisher"], kind="routine_6_month", on=at.date(), by_words="Tag House"
    )
    LineFactory(starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - 5 * DAY)
    # Swapped on a hire, and charged.
    gone = LineFactory(
        cart=HireIn.objects.get(pk=things["hire_in"]).cart, starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - 5 * DAY
    )  # fmt: skip
    OffHireFactory(line=gone, replaced_by=LineFactory(agreement=gone.agreement), replaced_why="Pump seized")
    DocketFactory(line=gone)
    # Out for days, and nobody signed a pre-start; another has a book of its own, and no week's copy came.
    LineFactory(starts_at=now - 9 * DAY, ends_at=now, out_at=now - 9 * DAY, agreement__days_in_week=7)
    LineFactory(
        starts_at=now - 20 * DAY, ends_at=now, out_at=now - 20 * DAY, agreement__pre_start_book="theirs"
    )
    # One that may be used still; the one among the things has ended.
    MovePermitFactory(expires_at=now + DAY)
    # A booking that has a cart only where a hire of the same days has another.
    days = {"starts_at": now + 365 * DAY, "ends_at": now + 370 * DAY}
    LineFactory(cart=CartFactory(tank_capacity_l=50_000), litres=5000, **days)
    BookingFactory(litres=50_000, **days)
    Alert.objects.create(
        rule="servicing.extinguisher", subject_kind="thing", subject_id=uuid.uuid4(), rank="today", for_role=Role.FITTER,
        what="A tag runs out.", how_we_know="By its tag.", if_not="The gate will hold it.", raised_at=now,
    )  # fmt: skip
    client.force_login(people[Role.FLEET_MANAGER])
    for name, route in ROUTES.items():
        if route.door != "staff" or "GET" not in route.methods or route.own != EVERYBODY or route.query:
            continue
        page = reverse(name, args=[things[kind] for kind in route.things])
        answer = client.get(page + ASKED.get(name, ""))
        text = "" if answer.streaming else answer.content.decode(errors="replace")
        found += [(page, html.unescape(query), route.roles) for query in OFFERED.findall(text)]
    return found


def test_each_file_a_page_offers_opens_for_those_who_may_read_the_page(offered, people, client):
    # Every link of every template is among them, so that none leads to a page in place of a file.
    assert len(offered) == sum(path.read_text().count(LINK) for path in TEMPLATES.rglob("*.html"))
    for role in Role:
        client.force_login(people[role])
        for page, query, roles in offered:
            answer = client.get(page + query)
            if role not in roles:
                assert answer.status_code == 403, (page, query, role)
                continue
            assert answer["Content-Type"].startswith("text/csv"), (page, query, role)
            head, *rows = csv.reader(io.StringIO(answer.content.decode("utf-8-sig"), newline=""))
            assert {len(row) for row in rows} <= {len(head)}, (page, query)


def test_nobody_signed_in_is_given_a_file(offered, client):
    client.logout()
    for page, query, _ in offered:
        assert client.get(page + query).status_code == 302
