from django.apps import AppConfig


class ConfigConfig(AppConfig):
    name = "config"
    verbose_name = "Configuration"

    def ready(self) -> None:
        from config import checks  # noqa: F401, PLC0415 - registering checks is what ready() is for
