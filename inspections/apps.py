from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        from fleet.readiness import register_provider  # noqa: PLC0415 - start-up is where providers are told
        from fleet.records import register_record  # noqa: PLC0415
        from inspections import standing  # noqa: PLC0415

        register_provider("inspections", standing.findings)
        register_record("walk_round", "inspections:walk_round_detail")
