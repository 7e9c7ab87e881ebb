"""Each kind of link opens what it is for and nothing else, and never another customer's anything: every address tried."""

import json
from datetime import timedelta

import pytest
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from hire.actions.links import make_link, open_link
from hire.docket_files import make_docket_file
from hire.models.links import CustomerLink
from hire.pack_files import make_pack_file
from hire.rights import RIGHT_NAMES, may
from hire.site_rules import Asked, PaperAsked
from inspections.certificates.models import Certificate
from people.yard import yard_day
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, DocumentFactory, HoldFactory
from tests.factories.hire import CustomerFactory, CustomerLinkFactory, LineFactory, LoadFactory
from tests.factories.money import AgreedTermsFactory, DocketFactory
from tests.factories.offers import ServiceOfferFactory
from tests.factories.people import StaffFactory
from tests.factories.sites import SitePackFactory, SiteSetFactory
from tests.factories.wet import DailyDocketFactory, OperatorFactory
from tests.house.access_table import ROUTES
from tests.house.access_things import _paper
from tests.pages import text_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
KINDS = sorted(RIGHT_NAMES)
# Which kinds of link each address answers; an address that is not here fails.
OPEN_TO = {
    "hire:customer_page": {"supervisor", "operator", "accounts"},
    "hire:link_open": {"supervisor", "operator"},
    "hire:link_breakdown": {"supervisor", "operator"},
    "hire:link_off_hire": {"supervisor"},
    "hire:link_said": {"supervisor"},
    "hire:link_claim": {"supervisor"},
    "hire:link_service": {"supervisor"},
    "hire:link_copy": {"supervisor", "operator"},
    "hire:customer_file": {"supervisor"},
    "hire:customer_pack": {"supervisor"},
    "hire:customer_docket": {"accounts"},
    "hire:customer_cab_card": {"supervisor", "operator"},
    "hire:link_plan": {"supervisor", "operator"},
    "hire:link_loads": {"supervisor", "operator"},
    "hire:link_load_undo": {"supervisor", "operator"},
    "hire:link_daily": {"supervisor"},
}


def a_hire(now, number, customer):
    """A cart out for three days, with a certificate, a pack and a docket that have their files, and pre-starts that lapsed."""
    walk.edition()
    line = LineFactory(
        cart=CartFactory(fleet_number=number, tyres=True),
        agreement__customer=customer,
        starts_at=now - 3 * DAY,
        out_at=now - 3 * DAY,
    )
    AgreedTermsFactory(line=line)
    things = {
        "line": line, "certificate": _paper(line, int(number[2:]), now).pk, "pack": SitePackFactory(line=line, made_at=now).pk,
        "docket": DocketFactory(line=line).pk, "load": LoadFactory(line=line).pk,
        "own_daily": DailyDocketFactory(
            turn=None, line=line, operator=OperatorFactory(), on=yard_day(now) - DAY, unsigned_why="Gate shut"
        ).pk,
        "own_offer": ServiceOfferFactory(line=line).pk,
    }  # fmt: skip
    make_pack_file(things["pack"], now)
    make_docket_file(things["docket"], now)
    for kind in KINDS:
        things[kind] = f"token-of-{number}-{kind}"
        CustomerLinkFactory(
            line=line, token=things[kind], rights=kind, for_words=f"{kind} of {number}", made_at=now - DAY
        )
    return things


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def mine(now):
    return a_hire(now, "RG41", CustomerFactory(name="Merrin Civil"))


@pytest.fixture
def theirs(now):
    return a_hire(now, "RG42", CustomerFactory(name="Rival Earth"))


# An operator of the yard's has a link of another kind.
BEHIND_A_LINK = {
    name: route for name, route in ROUTES.items() if route.door == "link" and route.things[0] == "token"
}


def addresses(things, token):
    for name, route in BEHIND_A_LINK.items():
        yield (
            name,
            reverse(name, args=[token, *(things[kind] for kind in route.things[1:])]),
            route.methods,
        )


def test_every_address_behind_a_link_says_who_it_is_for():
    assert set(OPEN_TO) == set(BEHIND_A_LINK)


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_link_opens_what_it_is_for(mine, kind):
    client, wrong = Client(), {}
    for name, address, methods in addresses(mine, mine[kind]):
        for method in methods:
            status = getattr(client, method.lower())(address).status_code
            is_open = kind in OPEN_TO[name]
            if (status == 404) is is_open:
                wrong[name, method] = status
    assert wrong == {}


@pytest.mark.parametrize("kind", KINDS)
def test_no_link_opens_anything_of_another_customer(mine, theirs, kind):
    """Every address of every kind of link, with the other customer's thing in it."""
    client = Client()
    for name, address, methods in addresses(
        mine | {k: theirs[k] for k in ("certificate", "pack", "docket", "load", "own_daily", "own_offer")},
        mine[kind],
    ):
        for method in methods:
            answer = getattr(client, method.lower())(address)
            if len(ROUTES[name].things) > 1:
                assert answer.status_code == 404, name
            body = b"".join(answer.streaming_content) if answer.streaming else answer.content
            for words in (b"RG42", b"Rival Earth", theirs["line"].agreement.number.encode()):
                assert words not in body, (name, words)


@pytest.mark.parametrize("kind", ["supervisor", "operator"])
@pytest.mark.parametrize("days", [-9, 1])
def test_a_cart_that_another_customer_has_is_told_without_them(now, kind, days):
    """Still out with somebody else, or promised to them before; a wash-down void by their work."""
    line = LineFactory(agreement__customer=CustomerFactory(name="Merrin Civil"), starts_at=now + 2 * DAY)
    rival = {
        "agreement__customer": CustomerFactory(name="Rival Earth"),
        "agreement__place_of_work": "Rival quarry",
    }
    other = LineFactory(
        cart=line.cart,
        starts_at=now + days * DAY,
        ends_at=now + (days + 1) * DAY,
        out_at=now - 9 * DAY if days < 0 else None,
        **rival,
    )
    SiteSetFactory(customer=line.agreement.customer, asked=Asked(papers={"wash_down": PaperAsked("must")}))
    DocumentFactory(cart=line.cart, kind="wash_down", issued_on=now.date() - 20 * DAY, expires_on=None)
    SitePackFactory(line=line, made_at=now)
    CustomerLinkFactory(line=line, token="token-of-the-one-who-waits-00000", rights=kind, made_at=now - DAY)
    answer = Client().get(reverse("hire:customer_page", args=["token-of-the-one-who-waits-00000"]))
    found = (*answer.context["answer"].blockers, *answer.context["answer"].cautions)
    assert days > 0 or {"hire.overlap", "hire.out"} & {one.code for one in found}
    # The page says the worst alone, whichever that is.
    told = text_of(answer) + " ".join(one.sentence for one in found)
    assert "Held" in told
    for words in ("Rival", other.agreement.number):
        assert words not in told


def test_an_operator_is_told_whether_it_may_work(mine):
    address = reverse("hire:customer_page", args=[mine["operator"]])
    assert "May it work?" in text_of(Client().get(address))
    HoldFactory(cart=mine["line"].cart, reason="Gearbox noise")
    assert "Do not work it. Ring the yard." in text_of(Client().get(address))


def test_a_late_cart_that_somebody_waits_for_may_still_work(mine, now):
    LineFactory(
        cart=mine["line"].cart,
        starts_at=now + 5 * DAY,
        agreement__customer=CustomerFactory(name="Rival Earth"),
    )
    late = mine["line"]
    late.promised = DateTimeTZRange(late.promised.lower, now - timedelta(hours=1))
    late.save()
    waits = LineFactory(cart=late.cart, starts_at=now - timedelta(minutes=30), ends_at=now + DAY)
    page = text_of(Client().get(reverse("hire:customer_page", args=[mine["operator"]])))
    assert "Do not work it" not in page
    assert waits.agreement.customer.name not in page


def test_an_operator_sees_no_papers_nor_who_signed(mine, now):
    page = text_of(Client().get(reverse("hire:customer_page", args=[mine["operator"]])))
    for words in ("Do the pre-start on this phone", "Report it here too", "Safe use", "RG41"):
        assert words in page
    number = Certificate.objects.get(pk=mine["certificate"]).number
    for words in (number, "Papers", "Ask to off-hire", "nobody signed", "Site pack", "docket"):
        assert words not in page


def test_a_supervisor_sees_papers_pack_and_what_lapsed_and_no_charges(mine):
    page = text_of(Client().get(reverse("hire:customer_page", args=[mine["supervisor"]])))
    for words in (
        Certificate.objects.get(pk=mine["certificate"]).number,
        "Site pack",
        "Ask to off-hire",
        "Pre-starts nobody signed",
    ):
        assert words in page
    # The days an operator worked are theirs to sign; what they cost is not.
    for words in (mine["line"].dockets.get().number, "with tax", "1,450"):
        assert words not in page


def test_accounts_see_dockets_and_charges_and_nothing_of_the_operators(mine):
    page = text_of(Client().get(reverse("hire:customer_page", args=[mine["accounts"]])))
    docket = mine["line"].dockets.get()
    for words in (docket.number, "Not on a docket yet", "with tax"):
        assert words in page
    for words in ("pre-start", "Pre-start", "Broken down", "Certificate"):
        assert words not in page


def test_a_link_made_before_there_were_kinds_is_a_supervisors(mine, now):
    _, token = make_link(line=mine["line"], for_words="Aoife", by=StaffFactory(role="hire_desk"), at=now)
    link = open_link(token=token, at=now)
    assert (link.rights, may(link.rights).runs) == ("supervisor", True)
    assert CustomerLink._meta.get_field("rights").default == "supervisor"


def test_a_word_that_is_no_right_opens_nothing():
    with pytest.raises(KeyError):
        may("owner")


def test_the_desk_says_what_a_link_shows(client, desk, mine):
    client.force_login(desk)
    line = mine["line"]
    page = client.post(
        reverse("hire:link_make", args=[line.pk]), {"for_words": "Ken", "rights": "operator"}, follow=True
    )
    assert "For Ken, operator" in text_of(page)
    assert CustomerLink.objects.get(for_words="Ken").rights == "operator"
    assert json.dumps(KINDS)
