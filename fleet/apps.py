from django.apps import AppConfig


class FleetConfig(AppConfig):
    name = "fleet"

    def ready(self) -> None:
        from fleet import (  # noqa: F401, PLC0415 - start-up is where providers are told
            checks,
            holding,
            permit_page,
            spray_page,
            watch,
            watch_passes,
            water_page,
            weight_page,
        )
        from fleet.alerts.rules import register_rule  # noqa: PLC0415
        from fleet.panels import register_panel  # noqa: PLC0415
        from fleet.readiness import register_provider  # noqa: PLC0415
        from fleet.records import register_record  # noqa: PLC0415

        register_provider("fleet", holding.findings)
        register_rule("fleet.paper_lapses", watch.papers_lapse, "Papers")
        register_rule("fleet.meter_unread", watch.meters_unread, "Meters not read")
        register_rule("fleet.move_late", watch.moves_late, "Move permits")
        register_panel("permits", 30, permit_page.panel, "fleet/_permits.html")
        register_rule("fleet.pass_unconfirmed", watch_passes.unconfirmed, "Passes by phone")
        register_rule("fleet.pass_disowned", watch_passes.disowned_and_out, "Passes never given")
        register_panel("weights", 35, weight_page.panel, "fleet/_weights.html")
        register_panel("water", 40, water_page.panel, "fleet/_water.html")
        register_panel("spray", 45, spray_page.panel, "fleet/_spray.html")
        register_record("cart", "fleet:cart_detail")
        register_record("move_permit", "fleet:permit_detail")
        register_record("pass", "fleet:pass_detail")
        register_record("evenness_test", "fleet:evenness_detail")
