"""The addresses of what is done about the order of the day at a bench."""

from django.urls import path

from boards import planning

urlpatterns = [
    path("plan/", planning.plan, name="plan"),
    path("plan/<slug:where>/", planning.move, name="plan-move"),
    path("pin/", planning.pin, name="plan-pin"),
]
