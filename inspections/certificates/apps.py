from django.apps import AppConfig


class CertificatesConfig(AppConfig):
    name = "inspections.certificates"
    label = "certificates"

    def ready(self) -> None:
        from inspections.certificates.actions import render_and_seal  # noqa: PLC0415 - start-up tells the outbox
        from people.outbox.handlers import register_handler  # noqa: PLC0415

        register_handler("certificates.render", render_and_seal)
