from django.urls import path

from servicing import bulk_views, job_views, service_views, tyre_views, views, week_views

app_name = "servicing"
urlpatterns = [
    path("workshop/", views.defect_list, name="defect_list"),
    path("workshop/tell/", views.defect_add, name="defect_add"),
    path("workshop/holds/", views.hold_list, name="hold_list"),
    path("workshop/weeks/", week_views.week_list, name="week_list"),
    path("workshop/services/", service_views.plan_list, name="plan_list"),
    path("workshop/services/add/", service_views.plan_add, name="plan_add"),
    path("workshop/services/<uuid:plan_id>/", service_views.plan_change, name="plan_change"),
    path("workshop/services/<uuid:plan_id>/end/", service_views.plan_end, name="plan_end"),
    path("services-due/<uuid:due_id>/", service_views.service_due_detail, name="service_due_detail"),
    path("services-done/<uuid:done_id>/strike/", service_views.service_strike, name="service_strike"),
    path("carts/<uuid:cart_id>/service/", service_views.service_record, name="service_record"),
    path("carts/<uuid:cart_id>/workshop-day/", week_views.visit_book, name="visit_book"),
    path("workshop-days/<uuid:visit_id>/cancel/", week_views.visit_cancel, name="visit_cancel"),
    path("workshop/together/", bulk_views.defects_together, name="defects_together"),
    path("workshop/job-sheets/", job_views.job_sheets, name="job_sheets"),
    path("workshop/patterns/<str:check_key>/", bulk_views.pattern_detail, name="pattern_detail"),
    path("workshop/<uuid:defect_id>/", views.defect_detail, name="defect_detail"),
    path("workshop/<uuid:defect_id>/job/", job_views.job_sheet, name="job_sheet"),
    path("workshop/<uuid:defect_id>/job/<slug:act>/", job_views.job_act, name="job_act"),
    path("workshop/<uuid:defect_id>/told-again/", job_views.fix_end, name="fix_end"),
    path("workshop/parts/<uuid:part_id>/strike/", job_views.part_strike, name="part_strike"),
    path("workshop/<uuid:defect_id>/<slug:step>/", views.defect_step, name="defect_step"),
    path("extinguishers/spare/", job_views.spare_add, name="spare_add"),
    path("extinguishers/<uuid:extinguisher_id>/", views.extinguisher_detail, name="extinguisher_detail"),
    path(
        "extinguishers/<uuid:extinguisher_id>/exchange/",
        job_views.extinguisher_exchange,
        name="extinguisher_exchange",
    ),
    path(
        "extinguishers/<uuid:extinguisher_id>/condemn/",
        job_views.extinguisher_condemn,
        name="extinguisher_condemn",
    ),
    path("tyre-fittings/<uuid:fitting_id>/", tyre_views.tyre_fitting_detail, name="tyre_fitting_detail"),
    path("tyre-fittings/<uuid:fitting_id>/wear.svg", tyre_views.tyre_wear, name="tyre_wear"),
    path("tyre-fittings/<uuid:fitting_id>/change/", tyre_views.tyre_change, name="tyre_change"),
    path("workshop/tyres/", tyre_views.tyre_list, name="tyre_list"),
    path("carts/<uuid:cart_id>/wheel-off/", tyre_views.wheel_refit, name="wheel_refit"),
    path("workshop/retorques/", tyre_views.retorque_list, name="retorque_list"),
    path("workshop/retorques/<uuid:task_id>/", tyre_views.retorque_detail, name="retorque_detail"),
    path("workshop/retorques/<uuid:task_id>/check/", tyre_views.retorque_check, name="retorque_check"),
]
