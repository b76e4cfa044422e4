"""What passes through the shop: blanks, benches, travellers."""

from django.apps import AppConfig


class BoardsConfig(AppConfig):
    """Boards."""

    name = "boards"
    label = "boards"
    verbose_name = "Boards"
