"""Yards. YardFactory() is where a cart of the factories is at home."""

from __future__ import annotations

from factory.django import DjangoModelFactory

from fleet.models.yards import Yard


class YardFactory(DjangoModelFactory):
    class Meta:
        model = Yard

    name, address = "Home yard", "1 Dust Road"
