from django.urls import path

from people import views

app_name = "people"
urlpatterns = [
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("people/", views.staff_list, name="staff_list"),
    path("people/add/", views.staff_add, name="staff_add"),
    path("people/<uuid:staff_id>/", views.staff_change, name="staff_change"),
    path("people/<uuid:staff_id>/access/", views.staff_access, name="staff_access"),
]
