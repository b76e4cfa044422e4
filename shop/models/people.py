"""The people who work in the shop, what each may do, and what was done about their accounts."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.models import AbstractUser, UserManager
from django.core.validators import RegexValidator
from django.db import models
from django.utils.crypto import salted_hmac

PIN_PATTERN = r"^[0-9]{4,8}\Z"
is_pin = RegexValidator(PIN_PATTERN, "A PIN is 4 to 8 digits.")


class Role(models.TextChoices):
    """What somebody may do; `shop/rights.py` says it address by address."""

    OWNER = "owner", "Owner"
    MAKER = "maker", "Maker"
    LOOKER_ON = "looker-on", "Looker-on"


class People(UserManager["User"]):
    """Makes accounts; the one that `createsuperuser` makes is an owner's."""

    use_in_migrations = False

    def create_superuser(
        self, username: str, email: str | None = None, password: str | None = None, **more: Any
    ) -> User:
        """Make an owner's account."""
        return self.create_user(username, email, password, **{**more, "role": Role.OWNER})

    def owners(self) -> models.QuerySet[User]:
        """Give those who can sign in as an owner."""
        return self.filter(role=Role.OWNER, is_active=True)


class User(AbstractUser):
    """Somebody who signs in; shown by the full name where there is one."""

    role = models.CharField(max_length=9, choices=Role, default=Role.MAKER)
    pin = models.CharField(max_length=128, blank=True, editable=False, help_text="Hashed, as the password is.")
    version = models.PositiveIntegerField(default=0, editable=False)

    objects = People()

    class Meta(AbstractUser.Meta):
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="people_have_a_role"),
            # Django's own two words for an owner, which its admin pages go by.
            models.CheckConstraint(
                condition=models.Q(role=Role.OWNER, is_superuser=True, is_staff=True)
                | (~models.Q(role=Role.OWNER) & models.Q(is_superuser=False, is_staff=False)),
                name="owners_and_nobody_else_are_superusers",
            ),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.get_username()

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save, with the two words that Django's admin pages go by."""
        self.is_staff = self.is_superuser = self.role == Role.OWNER
        if (columns := kwargs.get("update_fields")) is not None and "role" in columns:
            kwargs["update_fields"] = {*columns, "is_staff", "is_superuser"}
        super().save(*args, **kwargs)

    @property
    def is_owner(self) -> bool:
        """Whether the shop is theirs to set up."""
        return self.role == Role.OWNER

    @property
    def looks_on(self) -> bool:
        """Whether they read and print, and change nothing."""
        return self.role == Role.LOOKER_ON

    def set_pin(self, pin: str) -> None:
        """Take a PIN, or none where it is empty."""
        self.pin = make_password(pin) if pin else ""

    def has_this_pin(self, pin: str) -> bool:
        """Tell whether it is theirs; takes as long for somebody without one."""
        if not self.pin or not self.is_active:
            no_such_pin(pin)
            return False
        return check_password(pin, self.pin)

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        """End every session when the password or the PIN changes."""
        return salted_hmac(
            "django.contrib.auth.models.AbstractBaseUser.get_session_auth_hash",
            self.password + self.pin,
            secret=secret,
            algorithm="sha256",
        ).hexdigest()


def no_such_pin(pin: str) -> None:
    """Take as long as the check of a PIN does."""
    make_password(pin)


class AccountEntry(models.Model):
    """One thing that was done about somebody's account, by whom. It only grows."""

    class Did(models.TextChoices):
        ADDED = "added", "added"
        CHANGED = "changed", "changed"
        PASSWORD = "password", "given a new password"
        PIN = "pin", "PIN set"
        NO_PIN = "no-pin", "PIN taken away"
        CLOSED = "closed", "closed"
        REOPENED = "reopened", "opened again"

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="account_log")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    did = models.CharField(max_length=8, choices=Did)
    words = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name_plural = "account entries"
        ordering = ("-at", "-pk")

    def __str__(self) -> str:
        return f"{self.get_did_display()}{f': {self.words}' if self.words else ''}"

    @classmethod
    def write(cls, person: User, did: str, by: User, at: datetime, words: str = "") -> None:
        """Write down what was done."""
        cls.objects.create(person=person, did=did, by=by, at=at, words=words[:200])
