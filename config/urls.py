"""Every address of Slake. tests/house/access_table.py has a row for each, and an address without one fails."""

from django.urls import include, path

from config import health, home

handler400 = "config.error_pages.bad_request"
handler403 = "config.error_pages.forbidden"
handler404 = "config.error_pages.not_found"
handler500 = "config.error_pages.server_error"

urlpatterns = [
    path("", home.home, name="home"),
    path("find/", home.find, name="find"),
    path("healthz", health.healthz, name="healthz"),
    path("readyz", health.readyz, name="readyz"),
    path("", include("people.urls")),
    path("", include("people.tablets.urls")),
    path("", include("fleet.urls")),
    path("", include("fleet.alerts.urls")),
    path("", include("inspections.urls")),
    path("", include("servicing.urls")),
    path("", include("hire.urls")),
]
