"""An extinguisher at the end of its life stops its cart and is told of, where the rule set has one: FE-43 (VERIFIED-S), as
practised in the UK, 20 years. The Australian rule set has no row."""

from datetime import date, timedelta

import pytest

from fleet.readiness import Window, readiness
from people.yard import yard_day, yard_policy
from servicing.actions.extinguishers import why_no_spare
from servicing.watch import extinguishers_due
from tests.factories.fleet import CartFactory, ExtinguisherFactory
from tests.factories.servicing import NOW

pytestmark = pytest.mark.django_db
TODAY = yard_day(NOW)


@pytest.fixture
def under(settings):
    def choose(rule_set):
        settings.YARD_RULE_SET = rule_set
        yard_policy.cache_clear()

    yield choose
    yard_policy.cache_clear()


def made(on, **kwargs):
    kind = {
        "yearly_service": TODAY,
        "extended_service": TODAY,
        "routine_12_month": TODAY,
        "pressure_test": TODAY,
    }
    return ExtinguisherFactory(made_on=on, serviced=kind, **kwargs)


def stops(cart):
    answer = readiness(cart, window=Window(NOW, NOW + timedelta(days=1), asks_gate=False), at=NOW)
    return [one.sentence for one in answer.blockers if one.code == "extinguisher.due"]


@pytest.mark.parametrize(
    ("rule_set", "made_on", "is_over"),
    [("uk", date(2006, 12, 1), True), ("uk", date(2006, 12, 2), False), ("au", date(2006, 1, 1), False)],
)
def test_past_its_life_it_stops_its_cart_whatever_its_services(under, rule_set, made_on, is_over):
    under(rule_set)
    item = made(made_on, cart=CartFactory())
    assert bool(stops(item.cart)) == is_over
    if is_over:
        assert "its end of life fell due on 1 Dec 2026" in stops(item.cart)[0]


def test_it_is_no_spare_and_is_to_be_condemned(under):
    under("uk")
    spare = made(date(2006, 12, 1), cart=None)
    assert why_no_spare(spare, at=NOW).endswith(
        "end of life fell due on 1 Dec 2026. Condemn it, or choose another."
    )


def test_it_is_told_of_in_its_lead_time(under):
    under("uk")
    made(TODAY.replace(year=2006) + timedelta(days=29), cart=CartFactory())
    made(TODAY.replace(year=2006) + timedelta(days=31), cart=CartFactory())
    [condition] = extinguishers_due(NOW)
    assert "end of life" in condition.what
