"""Gauging a board: heights read across it at nut, middle and heel, and the four corners, read as a curve."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms

from boards.figures import Worked
from boards.readings import reading_box
from boards.verdicts import Judgement, corner_view, corners_of, judgement_of, read_radiused
from geometry.errors import GeometryError
from geometry.findings import Finding, worst
from geometry.gauging import Corners, StationReading, fit_circle, read_station
from geometry.radiused import ENDS
from geometry.radiused import Station as At
from geometry.result import Result
from geometry.surface import radius_at
from geometry.units import LengthStyle, rounded
from geometry.words import say
from shop.drawings.endview import Arc, EndView
from shop.fields import LengthInput, typed_length
from shop.forms import ShopForm
from shop.models import Shop

Points = tuple[tuple[float, float], ...]

PLACES = (("nut", "Nut", 0.0), ("middle", "Middle", 0.5), ("heel", "Heel", 1.0))  # how far along from nut to heel
COUNTS = (3, 5, 7, 9)
USUAL = 5  # from four points on it shows whether they agree
INSIDE = 3.0  # mm from the edge, so that a foot or a jaw stands on wood; common practice, no source
NOTHING = 0.005  # mm: shown as 0.00
CORNERS = {
    "head_treble": "Head, treble",
    "heel_treble": "Heel, treble",
    "head_bass": "Head, bass",
    "heel_bass": "Heel, bass",
}


@dataclass(frozen=True, slots=True)
class Station:
    """Where a board is gauged: its width there, and the radius it should have, infinite where flat. Lengths are mm."""

    key: str
    name: str
    at: float
    wide: float
    radius: float | None

    @property
    def curve(self) -> float | None:
        """The radius that it should have; None where flat, and where nothing is wanted."""
        return None if self.radius is None or math.isinf(self.radius) else self.radius

    def places(self, count: int, style: LengthStyle) -> list[str]:
        """Spread so many points evenly across, bass side first, on whole millimetres or sixteenths of an inch."""
        reach, step = max(self.wide / 2 - INSIDE, 1.0), 1.0 if style is LengthStyle.MM else 25.4 / 16
        steps = [round(reach * (2 * k / (count - 1) - 1) / step) for k in range(count)]
        if style is LengthStyle.MM:
            return [str(each) for each in steps]
        return [typed_length(Decimal(each) * Decimal("1.5875"), style) for each in steps]


@dataclass(frozen=True, slots=True)
class Found:
    """What one station reads, and its drawing."""

    station: Station
    reading: StationReading
    view: EndView

    @property
    def off(self) -> float:
        """How far the middle of the curve lies off the centreline, mm."""
        return abs(self.reading.offset)

    @property
    def unsure(self) -> float | None:
        """How much the radius may be off, as far as the points tell: their standard error, mm."""
        error = self.reading.radius_error
        return error if math.isfinite(error) and error > NOTHING else None

    @property
    def side(self) -> str:
        """Towards which side it lies."""
        return side_of(self.reading.offset)


def stations_of(board: Worked) -> list[Station]:
    """Say where a board is gauged, as wide as it is by now."""
    blank, made = board.blank, board.blank.as_made
    curve = board.request.board.radius if board.result else None
    length = board.result.board.length if board.result else float(blank.length)
    stations = []
    for key, name, along in PLACES:
        wide = float(blank.width)
        if made.outline:
            wide = made.outline.nut_width + (made.outline.heel_width - made.outline.nut_width) * along
        radius = None
        if board.result:
            radius = float(radius_at(along, curve.nut, curve.heel, 1.0)) if curve else math.inf
        stations.append(Station(key, name, along * length, wide, radius))
    return stations


def side_of(offset: float) -> str:
    """Name the side that a place lies on; nothing where no gauge could tell it from the centreline."""
    if abs(offset) < NOTHING:
        return ""
    return "treble" if offset > 0 else "bass"


def _view(station: Station, reading: StationReading, points: Points) -> EndView:
    """Hold it against a curve of the right radius that is as high in the middle as the board is."""
    found = Arc(-reading.radius if reading.hollow else reading.radius, reading.offset, reading.apex)
    return EndView(station.name, station.wide, Arc(station.curve, 0.0, reading.apex), found, points)


class GaugeForm(ShopForm, forms.Form):
    """Places across the board with what was read there, at one station or more; the four corners where it has them."""

    def __init__(self, *args: Any, board: Worked, count: int, shop: Shop, **kwargs: Any) -> None:
        self.board, self.count, self.stations = board, count, stations_of(board)
        self.found: list[Found] = []
        self.judgement = Judgement("pass", ())
        super().__init__(*args, shop=shop, **kwargs)
        for station in self.stations:
            for k, place in enumerate(station.places(count, shop.style)):
                box = LengthInput(
                    label=f"{station.name}, place {k + 1}", required=False, allow_negative=True, initial=place
                )
                box.style = shop.style
                self.fields[f"{station.key}_y{k}"] = box
                self.fields[f"{station.key}_z{k}"] = reading_box(
                    f"{station.name}, reading {k + 1}", shop.style, signed=True
                )
        if self.has_corners:
            for key, label in CORNERS.items():
                self.fields[key] = reading_box(label, shop.style)

    @property
    def has_corners(self) -> bool:
        """Tell whether the square corners are there, and can be reached."""
        blank = self.board.blank
        return bool(self.board.result) and "tapering" not in blank.done and not blank.is_on_neck

    @property
    def aim(self) -> Result | None:
        """What it has to be, or had to be when it came to the jig."""
        return self.board.at("radiusing")

    def clean(self) -> dict[str, Any]:
        """Read the curve, or say beside a box what is missing."""
        cleaned = super().clean() or self.cleaned_data
        gauged = [(station, self._points_of(station, cleaned)) for station in self.stations]
        corners = self._corners(cleaned)
        if self.errors:
            return cleaned
        gauged = [(station, points) for station, points in gauged if points]
        if not gauged and corners is None:
            raise forms.ValidationError("Nothing is read yet. Type three readings at least across one station.")
        self._read(gauged, corners)
        return cleaned

    def _read(self, gauged: list[tuple[Station, Points]], corners: Corners | None) -> None:
        style = self.shop.style
        if self.board.result:
            across = [At(station.key, station.at, points) for station, points in gauged]
            read = read_radiused(self.board, self.shop, corners, None, across)
            readings, views = read.stations, ()
            if corners is not None:
                views = tuple(corner_view(end, self.board, corners, read.corners, self.shop) for end in ENDS)
            self.judgement = judgement_of(read, style, views)
        else:
            readings = tuple(read_station(points, None, style, where=station.key) for station, points in gauged)
            findings = tuple(finding for reading in readings for finding in reading.findings)
            self.judgement = Judgement(worst(finding.leads_to for finding in findings), findings)
        self.found = [
            Found(station, reading, _view(station, reading, points))
            for (station, points), reading in zip(gauged, readings, strict=True)
        ]

    def _read_at(self, station: Station, cleaned: dict[str, Any]) -> Iterator[tuple[int, Decimal | None, Decimal]]:
        for k in range(self.count):
            y, z = (cleaned.get(f"{station.key}_{axis}{k}") for axis in "yz")
            if z is not None:
                yield k, y, z

    def _points_of(self, station: Station, cleaned: dict[str, Any]) -> Points:
        """Give the points of a station that make a circle, or say beside a box why there is none."""
        read = list(self._read_at(station, cleaned))
        for k, y, _ in read:
            name = f"{station.key}_y{k}"
            if y is None and name not in self.errors:
                self.add_error(name, "Say where across the board it was read.")
            elif y is not None and abs(y) > station.wide / 2:
                self.add_error(name, f"That is beyond the edge: the board is {self.length(station.wide)} wide here.")
        if not read or any(name.startswith(f"{station.key}_") for name in self.errors):
            return ()
        if len(read) < 3:
            empty = next(k for k in range(self.count) if cleaned.get(f"{station.key}_z{k}") is None)
            self.add_error(f"{station.key}_z{empty}", "A circle takes three readings at least.")
            return ()
        points = tuple((float(y), float(z)) for _, y, z in read)
        try:
            fit_circle(*zip(*points, strict=True))
        except GeometryError as error:
            self.add_error(f"{station.key}_z{read[0][0]}", error.words)
            return ()
        return points

    def _corners(self, cleaned: dict[str, Any]) -> Corners | None:
        keys = [key for key in CORNERS if key in self.fields]
        missing = [key for key in keys if cleaned.get(key) is None]
        if len(missing) == len(keys) or any(key in self.errors for key in keys):
            return None
        if missing:
            self.add_error(missing[0], "All four corners, or none.")
            return None
        return corners_of(cleaned)

    @property
    def general(self) -> list[Finding]:
        """What is said of the board as a whole, and of its corners; each station has its own."""
        own = [finding for found in self.found for finding in found.reading.findings]
        return [finding for finding in self.judgement.findings if finding not in own]

    @property
    def points(self) -> dict[str, Decimal]:
        """What was read, as the log keeps it: by station and place across, and by corner; mm."""
        kept = {
            f"{station.key} {y.normalize():f}": z
            for station in self.stations
            for _, y, z in self._read_at(station, self.cleaned_data)
        }
        return kept | {key: self.cleaned_data[key] for key in CORNERS if self.cleaned_data.get(key) is not None}

    @property
    def words(self) -> str:
        """Say in a line what was found, for the log."""
        style = self.shop.style
        said = [f"{self.judgement.word}."]
        for found in self.found:
            where = f"{say(found.off, style)} to the {found.side}" if found.side else "on the centreline"
            said.append(
                f"{found.station.name}: radius {say(rounded(found.reading.radius, 1), style)}, its middle {where}."
            )
        said += [finding.words for finding in self.general]
        return " ".join(said)[:2000]

    @property
    def blocks(self) -> list[tuple[Station, list[forms.BoundField], list[forms.BoundField]]]:
        """Put the boxes of each station together: places, then readings."""
        return [
            (station, *([self[f"{station.key}_{axis}{k}"] for k in range(self.count)] for axis in "yz"))
            for station in self.stations
        ]

    @property
    def corner_boxes(self) -> list[forms.BoundField]:
        """Give the boxes of the corners as the board lies: treble above bass, head to the left."""
        return [self[key] for key in CORNERS] if self.has_corners else []
