"""What all forms of the shop share: plain words, lengths in its unit, questions that can be answered with yes."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from django.core.validators import ProhibitNullCharactersValidator

from geometry.units import LengthStyle, format_length
from shop.fields import LengthInput
from shop.models import Shop

# In the place of Django's own, which speak of values.
_WORDS = {
    "min_value": "It cannot be less than %(limit_value)s.",
    "max_value": "It cannot be more than %(limit_value)s.",
    "max_length": "It is %(show_value)s characters long; %(limit_value)s is the most.",
    "max_digits": "It has too many digits.",
    "max_decimal_places": "It has too many decimals: %(max)s is the most.",
    "max_whole_digits": "It is too large.",
    "null_characters_not_allowed": "There is a character in it that cannot be kept. Type it again.",
}
_WORDS_OF_CHOICES = {
    "required": "Choose one.",
    "invalid_choice": "That is not one of the choices any more.",
}
_WORDS_OF_KIND = {
    forms.FloatField: {"invalid": "That is not a number."},
    forms.DecimalField: {"invalid": "That is not a number."},
    forms.IntegerField: {"invalid": "That is not a whole number."},
    forms.DateField: {"invalid": "That is not a day."},
}


@dataclass(frozen=True, slots=True)
class Question:
    """Something unusual that was typed. Ticking it says: yes, so it is."""

    field: str
    key: str
    words: str


class PlainWords(forms.BaseForm):
    """Mixin for forms that say in a maker's words what is wrong."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            speak_plainly(field)


def speak_plainly(field: forms.Field) -> None:
    """Give a field our words for what may be wrong with it."""
    field.error_messages.update(_WORDS, required="Fill this in.")
    for kind in type(field).__mro__[::-1]:
        field.error_messages.update(_WORDS_OF_KIND.get(kind, {}))
    if hasattr(field, "choices"):
        field.error_messages.update(_WORDS_OF_CHOICES)
    if isinstance(field, forms.ModelChoiceField):  # it looks for these by itself, with a message of its own
        field.validate_no_null_characters = ProhibitNullCharactersValidator(_WORDS_OF_CHOICES["invalid_choice"])


class ShopForm(PlainWords):
    """Mixin for forms that ask for lengths and may ask back.

    A question is put once: its key holds the value, so a tick never covers another value typed later.
    """

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        self.shop = shop
        self.questions: list[Question] = []
        self.confirmed: list[str] = []
        self.sure_keys: list[str] = []
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, LengthInput):
                field.style = shop.style
        if isinstance(getattr(type(getattr(self, "instance", None)), "style", None), LengthStyle):
            self.instance.style = shop.style  # what its own checks find is said in the shop's unit

    def length(self, value: Decimal | float) -> str:
        """Write a length as this shop does."""
        return format_length(value, self.shop.style)

    def ask(self, field: str, value: object, words: str) -> None:
        """Ask whether something unusual is meant, unless it was confirmed."""
        key = f"{field}={value}"
        if key in self.data.getlist("sure"):
            self.confirmed.append(words)
            self.sure_keys.append(key)
        else:
            self.questions.append(Question(field, key, words))

    def ask_outside(self, name: str, low: Decimal | int, high: Decimal | int, what: str) -> None:
        """Ask about a length outside the usual range."""
        value = self.cleaned_data.get(name)
        if value is not None and not low <= value <= high:
            self.ask(
                name,
                value,
                f"{what} {self.length(value)}: usual is {self.length(Decimal(low))} to {self.length(Decimal(high))}.",
            )

    def full_clean(self) -> None:
        """Say one thing beside a box: whatever else is found in it follows from the first."""
        super().full_clean()
        for name, wrong in self.errors.items():
            if name != NON_FIELD_ERRORS:
                del wrong.data[1:]

    def is_valid(self) -> bool:
        """Tell whether all is right and nothing is left to ask."""
        return super().is_valid() and not self.questions
