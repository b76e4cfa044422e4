"""The workshop itself: people, kit, builds, patterns."""

from django.apps import AppConfig


class ShopConfig(AppConfig):
    """Shop."""

    name = "shop"
    label = "shop"
    verbose_name = "Shop"
