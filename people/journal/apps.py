from django.apps import AppConfig


class JournalConfig(AppConfig):
    name = "people.journal"
    label = "journal"
