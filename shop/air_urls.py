"""The addresses of the shop's air."""

from django.urls import path

from shop import air, airfiles

urlpatterns = [
    path("", air.air, name="air"),
    path("<int:pk>/take-back/", air.take_typed_back, name="take-air-back"),
    path("files/", airfiles.send_file, name="send-air-file"),
    path("files/<int:pk>/", airfiles.file_page, name="air-file"),
    path("files/<int:pk>/take-back/", airfiles.take_file_back, name="take-air-file-back"),
]
