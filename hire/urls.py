from django.urls import URLPattern

app_name = "hire"
urlpatterns: list[URLPattern] = []
