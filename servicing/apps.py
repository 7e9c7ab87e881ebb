from django.apps import AppConfig


class ServicingConfig(AppConfig):
    name = "servicing"

    def ready(self) -> None:
        from fleet.actions.readings import METERS_CHANGED  # noqa: PLC0415
        from fleet.alerts.rules import register_rule  # noqa: PLC0415
        from fleet.extinguisher_kinds import register_extinguisher_services  # noqa: PLC0415
        from fleet.panels import register_panel  # noqa: PLC0415
        from fleet.readiness import register_provider  # noqa: PLC0415 - start-up is where providers are told
        from fleet.records import register_record  # noqa: PLC0415
        from fleet.wheel_work import register_wheel_work  # noqa: PLC0415
        from people.outbox.handlers import register_handler  # noqa: PLC0415
        from servicing import (  # noqa: PLC0415
            due,
            extinguisher_book,
            service_book,
            service_pages,
            watch,
            watch_defects,
            watch_services,
            wheel_actions,
            wheel_watch,
        )

        register_provider("servicing", due.findings)
        register_record("defect", "servicing:defect_detail")
        register_record("extinguisher", "servicing:extinguisher_detail")
        register_record("tyre_fitting", "servicing:tyre_fitting_detail")
        register_extinguisher_services(extinguisher_book.kinds, extinguisher_book.dates)
        register_rule("servicing.extinguisher_due", watch.extinguishers_due, "Extinguishers")
        register_rule("servicing.service_due", watch_services.services_fall_due, "Services")
        register_record("service_due", "servicing:service_due_detail")
        register_panel("services", 10, service_pages.panel, "servicing/_cart_services.html")
        register_rule("servicing.defect_past_date", watch_defects.past_date, "Defects past their date")
        register_rule("servicing.put_off_ending", watch_defects.put_off_ending, "Defects put off")
        register_rule("servicing.look_again_due", watch_defects.look_again_due, "Defects to look at again")
        register_rule("servicing.temporary_fix_ending", watch_defects.temporary_fix_ending, "Temporary fixes")
        register_rule("servicing.unseen_ending", watch_defects.unseen_ending, "Repairs to be seen by another")
        register_rule("servicing.tyre_due", wheel_watch.tyres_due, "Tyres")
        register_rule("servicing.retorque", wheel_watch.retorques_due, "Wheel nuts")
        register_record("retorque", "servicing:retorque_detail")
        register_wheel_work(wheel_actions.wheel_fitted)
        register_handler("servicing.tyres_changed", wheel_watch.forecast_changed_cart)
        register_handler(METERS_CHANGED, service_book.reckon_changed_cart)
