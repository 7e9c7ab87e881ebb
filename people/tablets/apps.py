from django.apps import AppConfig


class TabletsConfig(AppConfig):
    name = "people.tablets"
    label = "tablets"
