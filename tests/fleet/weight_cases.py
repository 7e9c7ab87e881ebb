"""What the database itself refuses of a cart's tank, plates and tickets: a case a named constraint, for the test of them all."""

from datetime import timedelta

from fleet.models.weights import GroupWeights, TicketStruck
from tests.factories.people import StaffFactory
from tests.factories.weights import STEER, TankMeasuredFactory, TicketFactory, WeightSheetFactory

PLACED = {"position_m": 0, "tare_kg": 4000}


def group(**changes):
    return GroupWeights.objects.create(
        **{"sheet": changes.pop("sheet", None) or WeightSheetFactory(groups=())} | STEER | PLACED | changes
    )


def struck_without_words():
    ticket = TicketFactory()
    TicketStruck.objects.create(
        ticket=ticket, words="", struck_at=ticket.recorded_at, struck_by=StaffFactory()
    )


CASES = {
    "fleet_tankmeasured_one_way": lambda: TankMeasuredFactory(length_m=None),
    "fleet_tankmeasured_fill_rate_positive": lambda: TankMeasuredFactory(fill_l_min=0),
    "fleet_weightsheet_words_known": lambda: WeightSheetFactory(stands_on="sledge"),
    "fleet_weightsheet_measures_positive": lambda: WeightSheetFactory(outer_length_m=0),
    "fleet_groupweights_two_places": lambda: group(place=3),
    "fleet_groupweights_place_once": lambda: group(sheet=WeightSheetFactory()),
    "fleet_groupweights_figures_positive": lambda: group(tyres=1),
    "fleet_groupweights_some_limit": lambda: group(law_key="", maker_kg=None, tyre_load_kg=None),
    "fleet_ticket_weights_positive": lambda: TicketFactory(rear_kg=0),
    "fleet_ticket_has_happened": lambda: TicketFactory(
        recorded_at=TicketFactory().weighed_at - timedelta(days=1)
    ),
    "fleet_ticketstruck_says_why": struck_without_words,
}
