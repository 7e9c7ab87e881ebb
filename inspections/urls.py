from django.urls import URLPattern

app_name = "inspections"
urlpatterns: list[URLPattern] = []
