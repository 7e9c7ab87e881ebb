from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "people"

    def ready(self) -> None:
        from people.say import heed_fields, yard_words  # noqa: PLC0415 - it asks for the models, which are there by now

        if yard_words():
            heed_fields()
