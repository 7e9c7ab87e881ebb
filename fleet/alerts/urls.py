from django.urls import path

from fleet.alerts import views

app_name = "alerts"
urlpatterns = [
    path("alerts/", views.alert_list, name="alert_list"),
    path("alerts/<uuid:alert_id>/take/", views.alert_take, name="alert_take"),
]
