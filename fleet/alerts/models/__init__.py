from fleet.alerts.models.alerts import RANKS, Alert, AlertQuerySet, SweepRun
from fleet.alerts.models.notices import Delivery, Notice, Telling
from fleet.alerts.models.roster import OnCall

__all__ = ["RANKS", "Alert", "AlertQuerySet", "Delivery", "Notice", "OnCall", "SweepRun", "Telling"]
