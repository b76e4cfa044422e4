"""The workshop itself: people, kit, builds, patterns."""

from django.apps import AppConfig
from django.core import checks

from shop.checks import sqlite_wal


class ShopConfig(AppConfig):
    """Shop."""

    name = "shop"
    label = "shop"
    verbose_name = "Shop"

    def ready(self) -> None:
        """Add our own checks to Django's, and what is done once a day."""
        from shop import chores

        chores.register()
        from shop.rights import every_address_has_a_right

        checks.register(sqlite_wal, checks.Tags.security, deploy=True)
        checks.register(every_address_has_a_right, checks.Tags.urls)
