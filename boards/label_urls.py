"""The addresses of labels."""

from django.urls import path

from boards import labels

urlpatterns = [
    path("", labels.labels, name="labels"),
    path("print.pdf", labels.labels_pdf, name="labels-pdf"),
    path("frames/<int:pk>.pdf", labels.calibration_pdf, name="label-frames"),
]
