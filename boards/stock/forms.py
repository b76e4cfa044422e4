"""The forms of a file of stock: handing it in, pointing its columns out, saying which woods are meant, taking it in."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import Any

from django import forms

from boards.intake import USUAL_MM, USUAL_MOISTURE
from boards.models import Cut
from boards.stock.cells import Unclear, day_of
from boards.stock.columns import LABELS, LENGTHS, NEEDED, UNITS, Reading
from boards.stock.rows import LEAVE_OUT, NEW, Found
from boards.stock.sheet import MOST_BYTES, Sheet
from shop.csvfiles import DELIMITERS, ENCODINGS
from shop.forms import PlainWords, ShopForm
from shop.models import Species

MOST_BLANKS = 20_000
_UNIT_WORDS = {"mm": "mm", "cm": "cm", "in": "inches"}
_DAYS = {"dmy": "Day, month, year", "mdy": "Month, day, year"}


class FileForm(PlainWords, forms.Form):
    """A file to hand in."""

    file = forms.FileField(
        label="File",
        max_length=200,
        help_text="CSV, as spreadsheets save it. One row for each blank, or for each kind.",
    )

    def clean_file(self) -> Any:
        """Refuse what is too large before it is read."""
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError(f"It has {file.size / 1e6:.1f} MB; {MOST_BYTES / 1e6:.0f} MB is the most.")
        return file


def _meanings() -> list[tuple[str, Any]]:
    """List what a column can be; of a length, in which unit a bare number is."""
    choices: list[tuple[str, Any]] = [("", "Leave it out")]
    for name, label in LABELS.items():
        if name in LENGTHS:
            choices += [(f"{name}:{unit}", f"{label}, {_UNIT_WORDS[unit]}") for unit in UNITS]
        else:
            choices.append((name, label))
    return choices


class ReadingForm(PlainWords, forms.Form):
    """How a file is read. Its columns come as fields of their own: `column-0` and so on."""

    delimiter = forms.ChoiceField(label="Between cells", choices=[(key, words) for key, words in DELIMITERS.items()])
    encoding = forms.ChoiceField(label="Letters", choices=list(ENCODINGS.items()))
    head = forms.IntegerField(
        label="Headings in row", min_value=0, max_value=20, help_text="Rows without a cell are not counted. 0: none."
    )
    decimal = forms.ChoiceField(label="Before decimals", choices=[(".", "A point"), (",", "A comma")])
    days = forms.ChoiceField(label="Days as numbers", choices=list(_DAYS.items()))

    species = forms.ModelChoiceField(Species.objects.order_by("name"), required=False, empty_label="A column says it")
    cut = forms.ChoiceField(
        label="Sawn", required=False, choices=[("", "Quartersawn, or as a column says"), *Cut.choices]
    )
    received_on = forms.CharField(label="Came in on", required=False, max_length=20, widget=forms.DateInput(
        attrs={"type": "date"}), help_text="Empty: today.")  # fmt: skip
    supplier = forms.CharField(required=False, max_length=80)
    lot = forms.CharField(label="Lot or box", required=False, max_length=40)
    place = forms.CharField(label="Place in the rack", required=False, max_length=40)
    again = forms.BooleanField(
        label="Rows that an earlier file had too are further blanks", required=False,
        help_text="Left open, such rows are known again and skipped.",
    )  # fmt: skip

    SHAPE = ("delimiter", "encoding", "head")
    REST = ("species", "cut", "received_on", "supplier", "lot", "place")

    def __init__(self, *args: Any, sheet: Sheet, reading: Reading, today: date, **kwargs: Any) -> None:
        self.sheet, self.reading, self.today = sheet, reading, today
        super().__init__(*args, **kwargs)
        self.fields["species"].label = "Wood"
        for place in range(len(sheet.heads)):
            self.fields[f"column-{place}"] = forms.ChoiceField(choices=_meanings(), required=False)
            self.fields[f"column-{place}"].label = sheet.heads[place]
        self._set_initial()

    def _set_initial(self) -> None:
        reading = self.reading
        names = (*self.SHAPE, "decimal", "days", "again")
        self.initial |= {name: getattr(reading, name) for name in names} | reading.rest
        if wood := reading.rest.get("species"):
            self.initial["species"] = Species.objects.filter(name=wood).first()
        for name, place in reading.columns.items():
            self.initial[f"column-{place}"] = f"{name}:{reading.units[name]}" if name in LENGTHS else name

    def columns(self) -> list[tuple[forms.BoundField, list[str]]]:
        """Give each column with the first cells that say something."""
        found = []
        for place in range(len(self.sheet.heads)):
            cells = [record.cells[place].strip() for record in self.sheet.records[:50] if place < len(record.cells)]
            found.append((self[f"column-{place}"], [cell[:40] for cell in cells if cell][:3]))
        return found

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Give the other fields in the order in which they are spoken of."""
        return [
            ("How it is written", [self[name] for name in (*self.SHAPE, "decimal", "days")]),
            ("What holds for all rows, where no column says it", [self[name] for name in self.REST]),
            ("If it came before", [self["again"]]),
        ]

    def clean_received_on(self) -> str:
        """Refuse days that cannot be meant."""
        text = self.cleaned_data["received_on"]
        if text:
            try:
                day_of(text, "dmy", self.today)
            except Unclear as unclear:
                raise forms.ValidationError(f"That day {unclear}.") from None
        return text

    def clean(self) -> dict[str, Any]:
        """Ask for what a blank must have, and refuse one meaning for two columns."""
        cleaned = super().clean() or self.cleaned_data
        chosen = [name for field, value in cleaned.items() if field.startswith("column-") and (name := _name(value))]
        for name, count in Counter(chosen).items():
            if count > 1:
                self.add_error(None, f"{LABELS[name]}: {count} columns cannot both be it.")
        if not self.errors and not self.shape_changed:
            for name in NEEDED:
                if name not in chosen and not (name == "species" and cleaned.get("species")):
                    self.add_error(None, f"{LABELS[name]}: say which column it is.")
        return cleaned

    @property
    def shape_changed(self) -> bool:
        """Tell whether the file falls into other cells now: then the columns are asked for afresh."""
        return any(name in self.changed_data for name in self.SHAPE)

    def chosen(self) -> Reading:
        """Give the reading that was chosen."""
        cleaned = self.cleaned_data
        columns, units = {}, {}
        for place in range(len(self.sheet.heads)):
            value = cleaned[f"column-{place}"]
            if name := _name(value):
                columns[name] = place
                if name in LENGTHS:
                    units[name] = value.partition(":")[2]
        rest = {name: cleaned[name] for name in self.REST if cleaned[name] and name != "species"}
        if cleaned["species"]:
            rest["species"] = cleaned["species"].name
        shape = {name: cleaned[name] for name in (*self.SHAPE, "decimal", "days")}
        return Reading(**shape, columns=columns, units=units, rest=rest, again=cleaned["again"])


def _name(value: str) -> str:
    return value.partition(":")[0]


class WoodsForm(PlainWords, forms.Form):
    """Which wood is meant by each word that is no name of ours."""

    def __init__(self, *args: Any, found: Found, woods: dict[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.words = list(found.woods)
        ours = [(str(wood.pk), wood.name) for wood in Species.objects.order_by("name")]
        for place, word in enumerate(self.words):
            choices = [
                ("", "Choose"),
                (NEW, f"A new wood, {word}"),
                (LEAVE_OUT, "Leave these rows out"),
                ("Ours", ours),
            ]
            self.fields[f"wood-{place}"] = forms.ChoiceField(
                label=f"{word}, {found.woods[word]} row{'s' if found.woods[word] > 1 else ''}",
                choices=choices,
                initial=woods.get(word, ""),
            )

    def chosen(self) -> dict[str, str]:
        """Give the choices by the words."""
        return {word: self.cleaned_data[f"wood-{place}"] for place, word in enumerate(self.words)}


class TakeForm(ShopForm, forms.Form):
    """Taking it in: all of it, or what is right of it; unusual figures are asked about."""

    which = forms.ChoiceField(
        label="Which rows",
        choices=[("all", "All rows, or none"), ("good", "The good rows only")],
        initial="all",
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, found: Found, **kwargs: Any) -> None:
        self.found = found
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        """Refuse to leave rows out unasked, and ask about figures that may be in another unit."""
        cleaned = super().clean() or self.cleaned_data
        found = self.found
        if found.wrong and cleaned.get("which") == "all":
            some = f"{len(found.wrong)} rows have" if len(found.wrong) > 1 else "One row has"
            self.add_error("which", f"{some} something wrong. Mend the file, or take the good rows only.")
        if not found.good:
            self.add_error("which", "There is no row to take in.")
        if found.blanks > MOST_BLANKS:
            self.add_error("which", f"That makes {found.blanks} blanks; {MOST_BLANKS} are the most at once.")
        for name, count in found.outside().items():
            rows = f"{count} rows" if count > 1 else "one row"
            if name == "moisture":
                low, high = (f"{edge} %" for edge in USUAL_MOISTURE)
            else:
                low, high = map(self.length, USUAL_MM[name])
            self.ask("which", f"{name}{count}", f"{name.capitalize()} is unusual in {rows}: usual is {low} to {high}.")
        return cleaned
