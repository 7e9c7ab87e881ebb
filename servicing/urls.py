from django.urls import path

from servicing import views

app_name = "servicing"
urlpatterns = [
    path("workshop/", views.defect_list, name="defect_list"),
    path("workshop/tell/", views.defect_add, name="defect_add"),
    path("workshop/holds/", views.hold_list, name="hold_list"),
    path("workshop/<uuid:defect_id>/", views.defect_detail, name="defect_detail"),
    path("workshop/<uuid:defect_id>/<slug:step>/", views.defect_step, name="defect_step"),
    path("extinguishers/<uuid:extinguisher_id>/", views.extinguisher_detail, name="extinguisher_detail"),
    path("tyre-fittings/<uuid:fitting_id>/", views.tyre_fitting_detail, name="tyre_fitting_detail"),
]
