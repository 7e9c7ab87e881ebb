from django.apps import AppConfig


class AlertsConfig(AppConfig):
    name = "fleet.alerts"
    label = "alerts"
