"""Fret ends in the dry season: how far the board shrinks away from under them, and how far to set them back."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.moisture import HANDBOOK_RANGE, FretEnds, coefficient_across, equilibrium, fret_ends, in_handbook_range
from shop.models import Shop, Spec, Species

CUTS = {"quarter": "Quartersawn", "rift": "Rift", "flat": "Flatsawn"}


@dataclass(frozen=True, slots=True)
class Sawn:
    """A board sawn one way, through the year; None where nobody has said how its wood moves that way."""

    cut: str
    heel: FretEnds | None
    nut: FretEnds | None

    @property
    def label(self) -> str:
        """How it is sawn."""
        return CUTS[self.cut]


@dataclass(frozen=True, slots=True)
class Seasons:
    """What the seasons do to the board of a spec, for each way of sawing it. Moistures are percent."""

    species: Species
    boards: list[Sawn]
    shop_mc: float
    low_mc: float
    high_mc: float

    @property
    def known(self) -> bool:
        """Tell whether anything can be said at all."""
        return any(board.heel for board in self.boards)

    @property
    def outside(self) -> str:
        """Say where the handbook's figures do not reach; empty where they do."""
        if in_handbook_range(self.shop_mc, self.low_mc, self.high_mc):
            return ""
        low, high = HANDBOOK_RANGE
        said = (
            f"The handbook's coefficients hold from {low:g} to {high:g} % moisture; here the wood goes from "
            f"{min(self.low_mc, self.shop_mc):.1f} to {max(self.high_mc, self.shop_mc):.1f} %."
        )
        if self.species.s_radial or self.species.s_tangential:
            return f"{said} The figures follow from its shrinkage instead, by the handbook's other equation."
        return f"{said} Take them as rough ones."


def seasons(spec: Spec, species: Species, shop: Shop) -> Seasons:
    """Work out what the seasons do to a board of some wood."""
    air = shop.air
    low, high = equilibrium(air.temperature_c, [shop.season_low, shop.season_high]).tolist()
    boards = []
    for cut in CUTS:
        if species.composite or not species.moves_known(cut):
            boards.append(Sawn(cut, None, None))
            continue
        moves = coefficient_across(species.radial or 0.0, species.tangential or 0.0, cut)
        needed = {"quarter": [species.s_radial], "flat": [species.s_tangential]}.get(
            cut, [species.s_radial, species.s_tangential]
        )
        shrinks = None if None in needed else float(sum(needed)) / len(needed)
        heel, nut = (
            fret_ends(float(width), moves, air.emc, low, high, shrinkage=shrinks)
            for width in (spec.heel_width, spec.nut_width)
        )
        boards.append(Sawn(cut, heel, nut))
    return Seasons(species, boards, air.emc, low, high)
