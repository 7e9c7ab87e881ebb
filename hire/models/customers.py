"""Customers of the yard."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from people.rows import Row


class Customer(Row):
    name = models.CharField(max_length=80)
    contact_name = models.CharField(max_length=80)
    phone = models.CharField(max_length=30)
    email = models.EmailField(blank=True)
    address = models.CharField(max_length=160, blank=True)
    # True: no new hire until the accounts are settled.
    is_stopped = models.BooleanField("No new hires", default=False)

    # True: no cart of theirs leaves without an order number on its agreement.
    asks_order_number = models.BooleanField("Asks for an order number before handover", default=False)

    class Meta:
        ordering: ClassVar[list[str]] = ["name"]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(
                models.functions.Lower("name"),
                name="hire_customer_name_once",
                violation_error_message="A customer with this name is already in the book.",
            ),
        ]

    def __str__(self) -> str:
        return self.name
