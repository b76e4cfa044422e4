"""What is measured at each stage, and what it must come to."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from typing import Any

from django import forms

from boards.models import Blank
from geometry.outline import rough_widths
from geometry.request import Request
from geometry.result import Result
from geometry.units import LengthStyle, format_length, format_small
from shop.fields import LengthInput
from shop.forms import ShopForm
from shop.models import Shop


@dataclass(frozen=True, slots=True)
class Target:
    """One reading: what is measured and on which side, what it must come to, how far off it may be. Lengths are mm.

    ``over`` and ``under`` say which way it is off; a reading that is ``signed`` counts to both sides of nothing.
    ``basis`` says which earlier readings it counts from; nothing where it is as planned.
    """

    key: str
    what: str
    side: str
    value: float
    tolerance: float
    over: str = "over"
    under: str = "under"
    signed: bool = False
    basis: str = ""

    @property
    def label(self) -> str:
        """Name it in full."""
        return f"{self.what}, {self.side}" if self.side else self.what

    @property
    def aim(self) -> Decimal:
        """What it must come to, as it is shown: where 4.02 stands, 4.02 is right, though geometry says 4.0165."""
        return Decimal(format_length(self.value, LengthStyle.MM, with_unit=False))

    @property
    def limits(self) -> tuple[Decimal, Decimal]:
        """The least and the most that will do; both will."""
        tolerance = Decimal(f"{self.tolerance:.6f}")
        return self.aim - tolerance, self.aim + tolerance

    def is_met_by(self, reading: Decimal) -> bool:
        """Tell whether a reading is within the tolerance, the limits included."""
        low, high = self.limits
        return low <= reading <= high

    def verdict(self, reading: Decimal, style: LengthStyle) -> str:
        """Say whether a reading is in, and how far off what it should be. `readings.js` says the same as one types."""
        off, inside = reading - self.aim, self.is_met_by(reading)
        size = format_small(abs(off), style, with_unit=False)
        if not float(size):
            size = "" if inside else "just"
        way = self.over if off > 0 else self.under
        return f"{'in' if inside else 'out'}, {f'{size} {way}' if size else 'to size'}"


def targets(stage: str, blank: Blank, request: Request, result: Result, shop: Shop) -> list[Target]:
    """Say what a stage has to reach on a blank."""
    match stage:
        case "thicknessing":
            least = result.thickness.before_radiusing
            tolerance = float(shop.thickness_tolerance)
            return [
                Target("head", "Thickness", "head end", least, tolerance),
                Target("heel", "Thickness", "heel end", least, tolerance),
            ]
        case "slotting":
            depth = result.slots.depth_setting
            tolerance, basis = float(shop.slot_tolerance), _basis(result, "slots", shop)
            return [Target("depth", "Slot depth", "", depth, tolerance, basis=basis)]
        case "radiusing":
            return _after_radiusing(blank, result, shop)
        case "tapering":
            board = request.board
            nut, heel = rough_widths(board.nut_width, board.heel_width, request.allowances.edge)
            tolerance = float(shop.width_tolerance)
            return [
                Target("nut_width", "Width at the nut", "", nut, tolerance),
                Target("heel_width", "Width at the heel", "", heel, tolerance),
            ]
        case "gluing":
            tolerance = float(shop.width_tolerance)
            return [Target("off_centre", "Centreline off at the heel", "", 0.0, tolerance, "off", "off", signed=True)]
        case _:
            raise ValueError(f"There is no stage {stage!r}.")


def _after_radiusing(blank: Blank, result: Result, shop: Shop) -> list[Target]:
    if blank.is_on_neck:
        # No caliper reaches under a board on its neck; the curve is gauged from above.
        return []
    middle, basis = float(shop.thickness_tolerance), _basis(result, "after", shop)
    left = result.thickness.after_radiusing
    centre = Target("centre", "Thickness on the centreline", "", left, middle, basis=basis)
    if "tapering" in blank.done:
        # The square corners that the figures are worked out for are gone.
        return [centre]
    tolerance, head, heel = float(shop.corner_tolerance), result.corners.head, result.corners.heel
    return [
        # Treble above bass, as the board lies in the drawings.
        Target("head_treble", "Head", "treble side", head, tolerance, basis=basis),
        Target("head_bass", "Head", "bass side", head, tolerance, basis=basis),
        Target("heel_treble", "Heel", "treble side", heel, tolerance, basis=basis),
        Target("heel_bass", "Heel", "bass side", heel, tolerance, basis=basis),
        centre,
    ]


def _basis(result: Result, figure: str, shop: Shop) -> str:
    return result.rests.words(figure, shop.style) if result.rests else ""


def reading_box(label: str, style: LengthStyle, *, signed: bool = False) -> LengthInput:
    """Make a box that a caliper or the keypad types into; it may be left empty."""
    box = LengthInput(label=label, required=False, allow_negative=signed)
    box.style = style
    # A tablet's keypad for decimals has no stroke and no space, which a fraction needs.
    inputmode = "text" if style is LengthStyle.INCH_FRACTION else "decimal"
    box.widget.attrs.update({"data-reading": "", "inputmode": inputmode, "data-unit": box.unit})
    return box


def _for_the_script(target: Target) -> dict[str, str]:
    """Give what a reading is held against as one types, in whole millionths of a mm."""
    low, high = target.limits
    lengths = {"aim": target.aim, "low": low, "high": high}
    words = {"data-over": target.over, "data-under": target.under}
    return {f"data-{name}": f"{length.scaleb(6):.0f}" for name, length in lengths.items()} | words


class ReadingsForm(ShopForm, forms.Form):
    """The readings of one stage. What is left empty or lies outside the tolerance is asked about.

    ``too_early`` says that the wood has not settled: that is asked about as well, and kept with the readings.
    """

    def __init__(self, *args: Any, targets: list[Target], shop: Shop, too_early: str = "", **kwargs: Any) -> None:
        self.targets = targets
        self.judgement: object = None  # what readings that are off come to, once somebody has judged them
        self.too_early = too_early
        super().__init__(*args, shop=shop, **kwargs)
        for target in targets:
            field = reading_box(target.label, shop.style, signed=target.signed)
            field.widget.attrs |= _for_the_script(target)
            field.target = target
            self.fields[target.key] = field

    def clean(self) -> dict[str, Any]:
        """Ask about what would spoil the next cut."""
        cleaned = super().clean() or self.cleaned_data
        if self.too_early:
            self.ask("settled", self.too_early, self.too_early)
        missing = [
            target for target in self.targets if target.key not in self.errors and cleaned.get(target.key) is None
        ]
        if missing:
            which = "/".join(target.key for target in missing)
            self.ask("missing", which, f"Not measured: {'; '.join(target.label for target in missing)}.")
        for target in self.targets:
            reading = cleaned.get(target.key)
            if reading is not None and not target.is_met_by(reading):
                self.ask(
                    target.key,
                    reading,
                    f"{target.label} is {self._small(reading)}; it should be {self._small(target.value)} "
                    f"± {self._small(target.tolerance)}.",
                )
        self._ask_about_sides(cleaned)
        return cleaned

    def _small(self, value: Decimal | float) -> str:
        """Write what a caliper reads: nobody compares 0.252 with 1/4."""
        return format_small(value, self.shop.style)

    def _ask_about_sides(self, cleaned: dict[str, Any]) -> None:
        # Both sides of an end agree when the apex lies on the centreline, whatever the thickness.
        for end in ("head", "heel"):
            bass, treble = cleaned.get(f"{end}_bass"), cleaned.get(f"{end}_treble")
            if bass is None or treble is None or abs(bass - treble) <= self.shop.corner_tolerance:
                continue
            thick = "bass" if bass > treble else "treble"
            apart = self._small(abs(bass - treble))
            self.ask(
                f"{end}_sides",
                f"{bass}/{treble}",
                f"At the {end} the {thick} side is {apart} thicker: the curve lies off the centreline towards it, or "
                "the board leans.",
            )

    @property
    def blocks(self) -> list[tuple[Target, list[tuple[forms.BoundField, str]]]]:
        """Put together the boxes that share a target, so that it stands once above them."""
        grouped = groupby(self.targets, key=lambda target: target.what)
        blocks = [list(targets) for _, targets in grouped]
        return [
            (targets[0], [(self[target.key], self.verdicts.get(target.key, "")) for target in targets])
            for targets in blocks
        ]

    @property
    def signed(self) -> bool:
        """Tell whether a minus is wanted on the keypad."""
        return any(target.signed for target in self.targets)

    @property
    def verdicts(self) -> dict[str, str]:
        """Say of each reading that was sent whether it is in."""
        if not self.is_bound:
            return {}
        return {
            target.key: target.verdict(self.cleaned_data[target.key], self.shop.style)
            for target in self.targets
            if self.cleaned_data.get(target.key) is not None
        }

    @property
    def aims(self) -> dict[str, Decimal]:
        """What each of the readings should have come to, in mm."""
        return {target.key: target.aim for target in self.targets if target.key in self.readings}

    @property
    def readings(self) -> dict[str, Decimal]:
        """What was read, in mm."""
        return {
            target.key: self.cleaned_data[target.key]
            for target in self.targets
            if self.cleaned_data.get(target.key) is not None
        }
