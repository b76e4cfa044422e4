"""One former on a jig: where the rails lie on it, what it cuts, and the former that a radius asks for."""

from __future__ import annotations

import math

from geometry.jig import rail_height
from geometry.request import Former, Jig


def rail_plane_on(jig: Jig, former: Former) -> float:
    """Height of the rail axes above the bed at a former, mm: ``H_f - R_f + sqrt((R_f + d/2)² - (g/2)²)``."""
    return former.apex - former.radius + float(rail_height(jig, former.radius))


def rails_touch(jig: Jig, radius: float) -> float:
    """How far apart the two rails touch an arc of this radius, mm, square across."""
    return radius * jig.rail_spacing / (radius + jig.rail_diameter / 2)


def radius_cut(jig: Jig, former: Former, thickness: float) -> float:
    """Radius that two such formers cut into a board, mm.

    Parameters
    ----------
    jig : Jig
        The jig.
    former : Former
        What stands at both ends.
    thickness : float
        Of the board on its centreline after radiusing, mm.

    Returns
    -------
    float
        ``R_f + A - H_f`` with the apex of the cut at ``A = riser + packing + thickness`` above the bed. It follows the
        board's height one for one.
    """
    return former.radius + jig.riser + jig.packing + thickness - former.apex


def former_for(jig: Jig, radius: float, thickness: float) -> tuple[float, float]:
    """Work out the former of which two cut a radius into a board, with the rails at the jig's rail plane.

    Parameters
    ----------
    jig : Jig
        The jig.
    radius, thickness : float
        Wanted on the board, and its thickness on the centreline after radiusing, mm.

    Returns
    -------
    tuple of float
        Radius of the arc, ``sqrt((R + k)² + (g/2)²) - d/2``, and height of its apex above the bed,
        ``Z + R_f - (R + k)``, mm, with the cutter ``k = Z - A`` below the rail plane.
    """
    reach = radius + jig.rail_plane - jig.riser - jig.packing - thickness
    arc = math.hypot(reach, jig.rail_spacing / 2) - jig.rail_diameter / 2
    return arc, jig.rail_plane + arc - reach
