"""The customer's people, and letters to them."""

from __future__ import annotations

from datetime import timedelta

import factory
from factory.django import DjangoModelFactory

from hire.models.contacts import Contact, Letter
from tests.factories.hire import AT, CustomerFactory, CustomerLinkFactory, LineFactory
from tests.factories.people import StaffFactory
from tests.factories.sites import SitePackFactory


class ContactFactory(DjangoModelFactory):
    """A supervisor with an address."""

    class Meta:
        model = Contact

    customer = factory.SubFactory(CustomerFactory)
    name = factory.Sequence(lambda n: f"Aoife Merrin {n}")
    email = factory.Sequence(lambda n: f"aoife{n}@merrin.example")
    made_at = AT - timedelta(days=30)
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class LetterFactory(DjangoModelFactory):
    """A pack on its way to a supervisor."""

    class Meta:
        model = Letter

    line = factory.SubFactory(LineFactory)
    contact = factory.SubFactory(ContactFactory, customer=factory.SelfAttribute("..line.agreement.customer"))
    to_name = factory.SelfAttribute("contact.name")
    to_address = factory.SelfAttribute("contact.email")
    pack = factory.SubFactory(SitePackFactory, line=factory.SelfAttribute("..line"))
    link = factory.SubFactory(CustomerLinkFactory, line=factory.SelfAttribute("..line"))
    made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")
