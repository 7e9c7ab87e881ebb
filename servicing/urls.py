from django.urls import path

from servicing import tyre_views, views

app_name = "servicing"
urlpatterns = [
    path("workshop/", views.defect_list, name="defect_list"),
    path("workshop/tell/", views.defect_add, name="defect_add"),
    path("workshop/holds/", views.hold_list, name="hold_list"),
    path("workshop/<uuid:defect_id>/", views.defect_detail, name="defect_detail"),
    path("workshop/<uuid:defect_id>/<slug:step>/", views.defect_step, name="defect_step"),
    path("extinguishers/<uuid:extinguisher_id>/", views.extinguisher_detail, name="extinguisher_detail"),
    path("tyre-fittings/<uuid:fitting_id>/", tyre_views.tyre_fitting_detail, name="tyre_fitting_detail"),
    path("tyre-fittings/<uuid:fitting_id>/wear.svg", tyre_views.tyre_wear, name="tyre_wear"),
    path("tyre-fittings/<uuid:fitting_id>/change/", tyre_views.tyre_change, name="tyre_change"),
    path("workshop/tyres/", tyre_views.tyre_list, name="tyre_list"),
    path("carts/<uuid:cart_id>/wheel-off/", tyre_views.wheel_refit, name="wheel_refit"),
    path("workshop/retorques/", tyre_views.retorque_list, name="retorque_list"),
    path("workshop/retorques/<uuid:task_id>/", tyre_views.retorque_detail, name="retorque_detail"),
    path("workshop/retorques/<uuid:task_id>/check/", tyre_views.retorque_check, name="retorque_check"),
]
