"""The people who work in the shop."""

from django.contrib.auth.models import AbstractUser


class User(AbstractUser):
    """Somebody who signs in; shown by the full name where there is one."""

    def __str__(self) -> str:
        return self.get_full_name() or self.get_username()
