"""What the paper of a cart says falls due on its extinguishers, the end of their life too where the rule set has one."""

from types import SimpleNamespace

import pytest

from hire.paper_cart import extinguishers
from people.yard import yard_policy
from tests.factories.fleet import CartFactory, ExtinguisherFactory
from tests.factories.hire import AT

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("rule_set", "kinds"),
    [
        ("au", {"six-month service", "twelve-month service", "pressure test"}),
        ("uk", {"end of life"}),
    ],
)
def test_each_rule_sets_own_dates_are_in_words(settings, rule_set, kinds):
    cart = CartFactory()
    ExtinguisherFactory(cart=cart, agent="dry_chemical")
    settings.YARD_RULE_SET = rule_set
    yard_policy.cache_clear()
    try:
        [one] = extinguishers(SimpleNamespace(at=AT, cart=cart))
    finally:
        yard_policy.cache_clear()
    assert kinds <= {date.kind for date in one.dates}
