"""The addresses of the boards' pages."""

app_name = "boards"

urlpatterns: list = []
