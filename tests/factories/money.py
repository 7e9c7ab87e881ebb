"""Rate cards, terms and dockets. RateCardFactory() is for every cart: 290 a day, 1,450 a week, 5,000 four weeks."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from hire.models.agreed_hours import AgreedHours
from hire.models.agreements import StandDown
from hire.models.deposits import DepositEntry
from hire.models.disputes import Dispute, DisputeOutcome, DisputeWord
from hire.models.fines import Driver, Fine
from hire.models.holidays import YardDay
from hire.models.money import AgreedTerms, BesideCharge, Docket, RateCard
from hire.models.stand_downs import StandDownClaim
from hire.models.worked_days import WorkedDay
from tests.factories.hire import AT, AgreementFactory, LineFactory
from tests.factories.people import StaffFactory

BODY = {
    "rates": {"1": "290.00", "7": "1450.00", "28": "5000.00"}, "days_in_week": "7", "minimum_days": "", "hours_in_day": "",
    "clock": "engine", "pool": "whole hire", "hour_price": "", "rain_cap_days": "", "rain_price": "", "waiver_pct": "",
    "tax_pct": "10",
}  # fmt: skip


class RateCardFactory(DjangoModelFactory):
    class Meta:
        model = RateCard

    name = "Any cart, dry"
    body = factory.LazyFunction(lambda: dict(BODY))
    starts_on = date(2026, 1, 1)
    made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class AgreedTermsFactory(DjangoModelFactory):
    class Meta:
        model = AgreedTerms

    line = factory.SubFactory(LineFactory)
    rule = "best rate"
    body = factory.LazyFunction(lambda: dict(BODY))
    agreed_at = AT
    agreed_by = factory.SubFactory(StaffFactory, role="hire_desk")


class BesideChargeFactory(DjangoModelFactory):
    class Meta:
        model = BesideCharge

    line = factory.SubFactory(LineFactory)
    what, quantity, unit, unit_price = "Delivery", Decimal(2), "trip", Decimal(180)
    told_at = AT
    told_by = factory.SubFactory(StaffFactory, role="hire_desk")


class DocketFactory(DjangoModelFactory):
    class Meta:
        model = Docket

    line = factory.SubFactory(LineFactory)
    number = factory.Sequence(lambda n: f"D2025-{n:05d}")
    through = date(2026, 12, 1)
    body = factory.LazyFunction(
        lambda: {
            "lines": [
                {
                    "key": "hire", "what": "Hire", "quantity": "1", "unit": "day", "unit_price": "290.00", "amount": "290.00",
                    "working": "1 day",
                }
            ],
            "notes": [], "hire_days": 1, "early_return_credit": "0.00",
        }
    )  # fmt: skip
    net, tax, total = Decimal(290), Decimal(29), Decimal(319)
    is_last = False
    made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class StandDownFactory(DjangoModelFactory):
    class Meta:
        model = StandDown

    line = factory.SubFactory(LineFactory)
    on = date(2026, 12, 3)
    why, told_by_words = "Rain", "Aoife Merrin"
    told_at = AT


class StandDownClaimFactory(DjangoModelFactory):
    class Meta:
        model = StandDownClaim

    line = factory.SubFactory(LineFactory)
    on = date(2026, 12, 3)
    kind, why, told_by_words = "rain", "Rain", "Aoife Merrin"
    told_at = made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class WorkedDayFactory(DjangoModelFactory):
    class Meta:
        model = WorkedDay

    line = factory.SubFactory(LineFactory)
    on = date(2026, 12, 5)
    told_by_words = "Aoife Merrin"
    told_at = made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class AgreedHoursFactory(DjangoModelFactory):
    """Thirty hours over three days."""

    class Meta:
        model = AgreedHours

    line = factory.SubFactory(LineFactory)
    first_on, last_on, hours = date(2026, 12, 1), date(2026, 12, 3), Decimal(30)
    how, yard_name, customer_name, words = "estimate", "Noor Haddad", "Aoife Merrin", "Their site diary"
    made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class YardDayFactory(DjangoModelFactory):
    """A day far from any calendar's."""

    class Meta:
        model = YardDay

    on = date(2026, 8, 12)
    kind, what = "added", "Show day"
    made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class DepositEntryFactory(DjangoModelFactory):
    """Taken, 500."""

    class Meta:
        model = DepositEntry

    agreement = factory.SubFactory(AgreementFactory)
    kind, amount, words = "taken", Decimal(500), "Card, receipt 1182"
    made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class DisputeFactory(DjangoModelFactory):
    """The first line of a docket, disputed with one thing said."""

    class Meta:
        model = Dispute
        skip_postgeneration_save = True

    docket = factory.SubFactory(DocketFactory)
    line_no = 1
    line_key, line_what, line_amount = "hire", "Hire", Decimal(290)
    made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")
    said = factory.RelatedFactory("tests.factories.money.DisputeWordFactory", factory_related_name="dispute")


class DisputeWordFactory(DjangoModelFactory):
    class Meta:
        model = DisputeWord

    dispute = factory.SubFactory(DisputeFactory)
    side, words, by_words, how = "theirs", "It stood all week", "Aoife Merrin", "phone"
    told_at, made_at = AT, AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class DisputeOutcomeFactory(DjangoModelFactory):
    class Meta:
        model = DisputeOutcome

    dispute = factory.SubFactory(DisputeFactory)
    outcome, given_up, words = "stands", Decimal(0), "The meter was read by both"
    decided_at = AT
    decided_by = factory.SubFactory(StaffFactory, role="hire_desk")


class DriverFactory(DjangoModelFactory):
    class Meta:
        model = Driver

    line = factory.SubFactory(LineFactory)
    name, licence, told_by_words = "Kit Arden", "SA 118273, MR", "Aoife Merrin"
    from_at = made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class FineFactory(DjangoModelFactory):
    class Meta:
        model = Fine

    line = factory.SubFactory(LineFactory)
    kind, issuer, plate, way = "toll", "Ridge Motorway", "S555 AAB", "paid"
    notice_number = factory.Sequence(lambda n: f"RM-{n:06d}")
    place_words, amount = "Ridge gantry", Decimal("8.40")
    happened_at = made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")
