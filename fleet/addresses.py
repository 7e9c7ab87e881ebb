"""Addresses the fleet's pages need: the record behind a finding, and the one page of an upper app they lead to."""

from __future__ import annotations

from uuid import UUID

from django.urls import NoReverseMatch, reverse

from fleet.records import record_url


def walk_url(cart_id: UUID) -> str:
    """Where this cart is walked round. The capture page reads the cart from the part after the hash, so that it opens
    the same page whether or not there is a signal."""
    return f"{reverse('inspections:capture')}#cart={cart_id}"


def cab_card_url(cart_id: UUID) -> str:
    """Where this cart's cab card is made: a paper of the app that makes papers."""
    return reverse("hire:cab_card", args=[cart_id])


def known_record_url(kind: str, record_id: UUID) -> str:
    """The record's page, or "" for a kind that has none."""
    try:
        return record_url(kind, record_id)
    except (KeyError, NoReverseMatch):
        return ""
