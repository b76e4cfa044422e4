"""The one line that Today says of backups, where it has to."""

from django import template
from django.utils import timezone

from shop.health import late_backup

register = template.Library()


@register.simple_tag
def backup_warning() -> str:
    """Say that the last backup is too old, or that something daily was not done."""
    return late_backup(timezone.now())
