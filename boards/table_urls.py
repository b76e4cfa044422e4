"""The addresses of tables: what can be taken away, and stock that is read in from a file."""

from django.urls import path

from boards import exporting, importing

urlpatterns = [
    path("export/", exporting.export, name="export"),
    path("export/camberbook.zip", exporting.archive, name="export-all"),
    path("export/<slug:table>.csv", exporting.one_table, name="export-table"),
    path("intake/file/", importing.hand_in, name="stock-hand-in"),
    path("intake/file/<int:pk>/", importing.stock_file, name="stock-file"),
    path("intake/file/<int:pk>/check/", importing.check, name="stock-check"),
    path("intake/file/<int:pk>/woods/", importing.say_woods, name="stock-woods"),
    path("intake/file/<int:pk>/left-out.csv", importing.left_out, name="stock-left-out"),
]
