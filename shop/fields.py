"""Lengths as the shop keeps them (decimal millimetres) and as people type them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models

from geometry.errors import LengthError
from geometry.units import LengthStyle, Unit, format_fraction, format_inch, format_mm, in_inches, parse_length

_CLOSE = Decimal("0.00127")  # half a ten-thousandth of an inch


class LengthField(models.DecimalField):
    """A length in mm with six places, so that every 1/64 in is exact."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 12)
        kwargs.setdefault("decimal_places", 6)
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> tuple:
        """Leave out what the field sets itself."""
        name, path, args, kwargs = super().deconstruct()
        kwargs.pop("max_digits", None)
        kwargs.pop("decimal_places", None)
        return name, path, args, kwargs

    def formfield(self, **kwargs: Any) -> forms.Field:
        """Ask for it as people write lengths."""
        # DecimalField.formfield would pass max_digits and decimal_places, which a typed "25 1/2 in" has not.
        options = {"form_class": LengthInput, "longest": Decimal(10) ** (self.max_digits - self.decimal_places)}
        return models.Field.formfield(self, **{**options, **kwargs})


class LengthInput(forms.CharField):
    """A box for a length: a bare number is in the shop's unit, any other unit may be written out."""

    def __init__(
        self,
        *,
        longest: Decimal = Decimal(1_000_000),
        allow_zero: bool = True,
        allow_negative: bool = False,
        **kwargs: Any,
    ) -> None:
        self.longest = longest
        self.allow_zero = allow_zero
        self.allow_negative = allow_negative
        self.style = LengthStyle.MM
        self.kept: object = None
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.widget.attrs.update({"autocomplete": "off", "inputmode": "text", "class": "length"})

    @property
    def unit(self) -> str:
        """What a bare number means, as the page shows it behind the box."""
        return unit_of(self.style).value

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> forms.BoundField:
        """Remember what is kept, which the box may show more shortly than it is."""
        self.kept = form.get_initial_for_field(self, field_name)
        return super().get_bound_field(form, field_name)

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        """Read what was typed, or say in words why it cannot be read."""
        text = super().to_python(value)
        if text in self.empty_values:
            return None
        if isinstance(self.kept, Decimal) and text == typed_length(self.kept, self.style):
            return self.kept  # nobody has typed there
        try:
            length = parse_length(text, unit_of(self.style), allow_negative=self.allow_negative)
        except LengthError as error:
            raise ValidationError(error.problems[0].message, code="length") from error
        if abs(length) >= self.longest:
            raise ValidationError("That is longer than any board.", code="length")
        if length == 0 and not self.allow_zero:
            raise ValidationError("It cannot be zero.", code="length")
        return length

    def validate(self, value: Any) -> None:
        """Only the presence is checked here; `to_python` has done the rest."""
        forms.Field.validate(self, value)

    def run_validators(self, value: Any) -> None:
        """Skip the text validators of the parent: the value is a number by now."""

    def prepare_value(self, value: Any) -> Any:
        """Show a kept length in the shop's unit; leave what was typed as it was typed."""
        if not isinstance(value, Decimal):
            return value
        return typed_length(value, self.style)

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare lengths, not spellings."""
        try:
            return self.to_python(data) != initial
        except ValidationError:
            return True


def unit_of(style: LengthStyle) -> Unit:
    """Tell which unit a style writes in."""
    return Unit.MM if style is LengthStyle.MM else Unit.INCH


def typed_length(value: Decimal, style: LengthStyle) -> str:
    """Write a length for an input box: in as few decimals as nearly give it, four of an inch at most.

    The box knows its own text again (`LengthInput.to_python`), so nothing is lost when a form is saved unchanged.
    """
    if style is LengthStyle.INCH_FRACTION and (in_inches(value) * 64).denominator == 1:
        return format_fraction(value, with_unit=False).replace("\u00a0", " ").replace("\u2212", "-")
    write, unit = (format_mm, Unit.MM) if style is LengthStyle.MM else (format_inch, Unit.INCH)
    for places in range(1 if style is LengthStyle.MM else 0, 5):
        text = write(value, places, with_unit=False)
        if abs(parse_length(text, unit, allow_negative=True) - value) <= _CLOSE:
            break
    return text
