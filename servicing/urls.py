from django.urls import URLPattern

app_name = "servicing"
urlpatterns: list[URLPattern] = []
