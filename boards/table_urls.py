"""The addresses of tables: what can be taken away, and stock that is read in from a file."""

from django.urls import path

from boards import exporting

urlpatterns = [
    path("export/", exporting.export, name="export"),
    path("export/camberbook.zip", exporting.archive, name="export-all"),
    path("export/<slug:table>.csv", exporting.one_table, name="export-table"),
]
