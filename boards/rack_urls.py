"""Addresses of the rack as a whole."""

from django.urls import path

from boards import matching_page

urlpatterns = [
    path("matching/", matching_page.matching, name="matching"),
    path("matching/put/", matching_page.put_matched, name="put-matched"),
]
