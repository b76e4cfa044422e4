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
        """Add our own checks to Django's."""
        checks.register(sqlite_wal, checks.Tags.security, deploy=True)
