"""The addresses of the sheets of labels in the kit."""

from django.urls import path

from shop import jigs, labelsheets
from shop.models import LabelSheet

urlpatterns = [
    path("new/", labelsheets.label_sheet, name="new-label-sheet"),
    path("<int:pk>/", labelsheets.label_sheet, name="label-sheet"),
    path("<int:pk>/remove/", jigs.remove, {"model": LabelSheet}, name="remove-label-sheet"),
]
