from django.urls import path

from fleet.alerts.views import alerts, managers

app_name = "alerts"
urlpatterns = [
    path("alerts/", alerts.alert_list, name="alert_list"),
    path("alerts/live/", alerts.alert_live, name="alert_live"),
    path("alerts/count/", alerts.alert_count, name="alert_count"),
    path("alerts/on-call/", managers.on_call_list, name="on_call_list"),
    path("alerts/on-call/<uuid:turn_id>/remove/", managers.on_call_remove, name="on_call_remove"),
    path("alerts/report/", managers.alert_report, name="alert_report"),
    path("alerts/<uuid:alert_id>/take/", alerts.alert_take, name="alert_take"),
    path("alerts/<uuid:alert_id>/set-aside/", alerts.alert_set_aside, name="alert_set_aside"),
    path("alerts/<uuid:alert_id>/bring-back/", alerts.alert_bring_back, name="alert_bring_back"),
]
