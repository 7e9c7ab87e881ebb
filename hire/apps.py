from django.apps import AppConfig


class HireConfig(AppConfig):
    name = "hire"

    def ready(self) -> None:
        from fleet.alerts.rules import register_rule  # noqa: PLC0415
        from fleet.closed_days import register_closed_days  # noqa: PLC0415
        from fleet.duty import register_duties  # noqa: PLC0415
        from fleet.needs import register_needs, register_promises, register_site_hires  # noqa: PLC0415 - start-up is where providers are told
        from fleet.offered import register_offered  # noqa: PLC0415
        from fleet.panels import register_panel  # noqa: PLC0415
        from fleet.readiness import register_provider  # noqa: PLC0415
        from fleet.records import register_record  # noqa: PLC0415
        from fleet.water_told import register_told  # noqa: PLC0415
        from hire import (  # noqa: PLC0415
            checks,  # noqa: F401
            collection,
            copy_watch,
            late_watch,
            operator_watch,
            owner_watch,
            panels,
            promises,
            public_holidays,
            right_to_go,
            run_watch,
            service_offers,
            site,
            watch,
            watch_claims,
            watch_desk,
            watch_float,
            watch_quotes,
            watch_water,
            water_on_hire,
        )

        register_provider("hire", right_to_go.findings)
        register_needs(promises.next_needs)
        register_promises(promises.promises_in)
        register_duties(promises.duties)
        register_closed_days(public_holidays.closed_days)
        register_told(water_on_hire.told_on_hires)
        register_offered(service_offers.offered)
        register_site_hires("hire_line", site.site_hire)
        register_site_hires("collection", collection.collected)
        for kind, page in (
            ("hire_line", "hire:line_detail"),
            ("docket", "hire:docket_detail"),
            ("quote", "hire:quote_detail"),
            ("dispute", "hire:dispute_detail"),
            ("booking", "hire:booking_open"),
            ("letter", "hire:letter_open"),
            ("hire_in", "hire:hire_in_detail"),
            ("operator", "hire:operator_detail"),
        ):
            register_record(kind, page)
        for name, find, heading in (
            ("hire.pre_start_lapsed", watch.pre_starts_lapsed, "Pre-starts on hire"),
            ("hire.copy_late", copy_watch.copies_late, "Weekly copies of pre-starts"),
            ("hire.pre_hire_missing", watch.pre_hires_missing, "Pre-hire checks"),
            ("hire.return_overdue", watch.returns_overdue, "Carts not back"),
            ("hire.breakdown", watch.breakdowns, "Breakdowns on hire"),
            ("hire.owner_clock", owner_watch.owner_clocks, "Hired-in carts"),
            ("hire.run_sheet", run_watch.run_sheets_open, "The run sheet"),
            ("hire.operator_ticket", operator_watch.tickets_lapsing, "Operators’ tickets"),
            ("hire.operator_missing", operator_watch.operators_missing, "Wet hire"),
            ("hire.booking_near", watch_desk.bookings_near, "Bookings without a cart"),
            ("hire.pack_due", watch_desk.packs_due, "Site packs"),
            ("hire.order_low", watch_desk.orders_low, "Order numbers"),
            ("hire.return_undecided", watch_desk.returns_undecided, "Carts back, to be decided"),
            ("hire.claim_open", watch_claims.claims_open, "Stand-down days claimed"),
            ("hire.potable_spoilt", watch_water.potable_spoilt, "Drinking water spoilt on hire"),
            ("hire.left_although", late_watch.left_although, "Handovers entered late"),
            ("hire.float_unlooked", watch_float.unloading_unlooked, "Floated carts"),
            ("hire.letter_stuck", watch_desk.letters_stuck, "Papers by email"),
            ("hire.quote_stuck", watch_quotes.quotes_stuck, "Quotes by email"),
        ):
            register_rule(name, find, heading)
        register_panel("hires", 20, panels.hires, "hire/_cart_hires.html")
        register_panel("owner", 15, panels.owner, "hire/_cart_owner.html")
        self._work_after_commits()

    @staticmethod
    def _work_after_commits() -> None:
        from hire.actions.breakdowns import alert_at_once  # noqa: PLC0415
        from hire.actions.gate import issue_for_line, issue_for_walk_round  # noqa: PLC0415
        from hire.docket_files import make_docket_file  # noqa: PLC0415
        from hire.letter_sending import send_letter  # noqa: PLC0415
        from hire.pack_files import make_pack_file  # noqa: PLC0415
        from hire.quote_files import make_quote_file  # noqa: PLC0415
        from hire.quote_sending import send_quote  # noqa: PLC0415
        from people.outbox.handlers import register_handler  # noqa: PLC0415

        for kind, handler in (
            ("hire.breakdown", alert_at_once),
            ("hire.issue_certificate", issue_for_line),
            ("walk_round.signed", issue_for_walk_round),
            ("hire.docket_file", make_docket_file),
            ("hire.pack_file", make_pack_file),
            ("hire.letter", send_letter),
            ("hire.quote_file", make_quote_file),
            ("hire.quote_letter", send_quote),
        ):
            register_handler(kind, handler)
