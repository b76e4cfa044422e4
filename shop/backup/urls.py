"""The addresses of the backups."""

from django.urls import path

from shop.backup import pages

urlpatterns = [
    path("", pages.backups_page, name="backups"),
    path("now/", pages.make_one, name="make-backup"),
    path("<str:file>", pages.download, name="backup"),
]
