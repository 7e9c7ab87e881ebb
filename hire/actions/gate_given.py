"""What is filled in at the gate, and whether it is enough: photos, a signature, limits accepted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.readiness import Readiness
from hire.strokes import is_drawing
from people.refusals import Refusal

# A picture of the cart as it leaves is taken from each of these, as stations.
SIDES = ("front", "right_side", "rear", "left_side")


class LimitsNotAccepted(Refusal):
    """The cart goes with limits and the customer has not accepted them."""

    field = "limits_accepted"


class PhotosWanted(Refusal):
    """A cart left with nobody present is photographed where it stands."""

    field = "photos"


class SignatureWanted(Refusal):
    """A signed handover has a name, and a drawn or typed signature."""

    field = "taken_by_name"


@dataclass(frozen=True)
class Given:
    """What was done at the gate, as filled in. mode: "signed" or "left"; strokes: JSON of a drawn signature; sides: a picture
    of the cart from each side that was taken, by station; happened_at: when it was handed over, None for this moment."""

    mode: str
    place_words: str
    keys_words: str
    condition_words: str
    items_words: str
    fuel_eighths: int
    taken_by_name: str = ""
    signature_kind: str = ""
    strokes: str = ""
    limits_accepted: bool = False
    photos: tuple[Photo, ...] = ()
    sides: tuple[tuple[str, Photo], ...] = ()
    happened_at: datetime | None = None
    # Why it left although something stopped it: a late entry by a manager.
    although_words: str = ""

    @property
    def pictures(self) -> tuple[Photo, ...]:
        return (*(photo for _, photo in self.sides), *self.photos)


def check_given(given: Given, answer: Readiness, cart: Cart) -> None:
    """PhotosWanted; LimitsNotAccepted; SignatureWanted."""
    if len({photo.pk for _, photo in given.sides}) < len(given.sides):
        raise PhotosWanted(
            f"One picture was given for several sides of {cart.fleet_number}. Photograph each side by itself."
        )
    if (answer.limits or answer.passed) and not given.limits_accepted:
        how = "Ring whoever hired it, read them out" if given.mode == "left" else "Read them out"
        raise LimitsNotAccepted(
            f"{cart.fleet_number} goes with limits. {how} and tick that they are accepted."
        )
    if given.mode == "left":
        if not given.pictures:
            raise PhotosWanted(
                f"Photograph {cart.fleet_number} where it stands: nobody is there to sign for it."
            )
        return
    drawn = given.signature_kind == "drawn"
    if not given.taken_by_name.strip() or not (drawn or given.signature_kind == "typed"):
        raise SignatureWanted("Whoever takes the cart signs with their name, drawn or typed.")
    if drawn and not is_drawing(given.strokes):
        raise SignatureWanted("The drawn signature did not arrive whole. Clear it and sign again.")
