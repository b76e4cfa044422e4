"""The people who work in the shop."""

from django.contrib.auth.models import AbstractUser


class User(AbstractUser):
    """Somebody who signs in. A name to show is needed more often than a first and a last one: `str` gives it."""

    def __str__(self) -> str:
        return self.get_full_name() or self.get_username()
