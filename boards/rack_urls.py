"""Addresses of the rack as a whole."""

from django.urls import path

from boards import buying_page, matching_page

urlpatterns = [
    path("matching/", matching_page.matching, name="matching"),
    path("matching/put/", matching_page.put_matched, name="put-matched"),
    path("buying/", buying_page.buying, name="buying"),
    path("buying/buying-list.csv", buying_page.buying_csv, name="buying-csv"),
]
