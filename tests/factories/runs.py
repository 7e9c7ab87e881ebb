"""What is written down for drivers. RunNoteFactory() lacks nothing."""

from __future__ import annotations

from datetime import time

import factory
from factory.django import DjangoModelFactory

from hire.models.runs import RunNote
from tests.factories.hire import AT, LineFactory
from tests.factories.people import StaffFactory


class RunNoteFactory(DjangoModelFactory):
    class Meta:
        model = RunNote

    line = factory.SubFactory(LineFactory)
    leg = "out"
    driver_words, start, contact_words = "Wes Tonkin", time(6), "Aoife Merrin, 08 5550 2231"
    channel_words, water_point_words = "UHF 22", "Standpipe at the north gate"
    noted_at = AT
    noted_by = factory.SubFactory(StaffFactory, role="hire_desk")
