from django.apps import AppConfig


class OutboxConfig(AppConfig):
    name = "people.outbox"
    label = "outbox"
