"""The addresses of moisture readings."""

from django.urls import path

from boards import moisture

urlpatterns = [
    path("rack/resting/", moisture.resting, name="resting"),
    path("blanks/<slug:number>/moisture/", moisture.of_blank, name="moisture"),
    path("blanks/<slug:number>/moisture/<int:pk>/take-back/", moisture.take_reading_back, name="take-reading-back"),
]
