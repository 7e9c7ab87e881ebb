from django.urls import path

from people.tablets import views

app_name = "tablets"
urlpatterns = [
    path("tablets/", views.tablet_list, name="tablet_list"),
    path("tablets/<uuid:tablet_id>/end/", views.tablet_end, name="tablet_end"),
    path("my-pin/", views.pin_set, name="pin_set"),
]
