from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "inspections"

    def ready(self) -> None:
        from fleet.panels import register_panel  # noqa: PLC0415
        from fleet.readiness import register_provider  # noqa: PLC0415 - start-up is where providers are told
        from fleet.records import register_record  # noqa: PLC0415
        from fleet.wanted import register_wanted  # noqa: PLC0415
        from inspections import panels, standing, wanted  # noqa: PLC0415
        from people.say import ours  # noqa: PLC0415

        register_provider("inspections", standing.findings)
        register_record("walk_round", "inspections:walk_round_detail")
        register_record("certificate", "inspections:certificate_detail")
        register_panel("walk rounds", 30, panels.walk_rounds, "inspections/_cart_walk_rounds.html")
        register_wanted(wanted.wanted)
        # The sheets' text is the house's, put into the yard's words as it is read out.
        ours("inspections.Edition.content", "inspections.YardCheck.body")
