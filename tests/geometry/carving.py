"""A board carved in numbers: a rigid frame of two round rails on two thin arcs, and a flat cutter run along it.

Nothing here comes from the package. The frame is placed by solving for the contact of each rail with each arc, and
the board is what lies under every plane that the cutter swept.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Carving:
    """A jig with two formers, measured as it stands: radius and apex of each arc, and the frame of rails."""

    span: float
    arcs: tuple[tuple[float, float], tuple[float, float]]
    rail_spacing: float
    rail_diameter: float

    def axes(self, roll, pitch, yaw):
        """Return the frame's directions: along the rails, across them, and square to both."""
        cr, sr, cp, sp, cy, sy = (f(a) for a in (roll, pitch, yaw) for f in (np.cos, np.sin))
        yawed = np.array([[cy, -sy, 0], [sy, cy, 0], [0, 0, 1]])
        pitched = np.array([[cp, 0, -sp], [0, 1, 0], [sp, 0, cp]])
        rolled = np.array([[1, 0, 0], [0, cr, sr], [0, -sr, cr]])  # a positive roll leans over to +y
        return (yawed @ pitched @ rolled).T

    def gaps(self, roll, pose):
        """Distance from each rail's skin to each arc, where they come closest."""
        y, z, pitch, yaw = pose
        along, across, _ = self.axes(roll, pitch, yaw)
        gaps = []
        for u, (radius, apex) in zip((0.0, self.span), self.arcs, strict=True):
            for side in (-1, 1):
                start = np.array([0.0, y, z]) + side * self.rail_spacing / 2 * across

                def distance(angle, u=u, radius=radius, apex=apex, start=start):
                    at = np.stack(
                        [np.full_like(angle, u), radius * np.sin(angle), apex - radius + radius * np.cos(angle)],
                        axis=-1,
                    )
                    return np.linalg.norm(np.cross(at - start, along), axis=-1)

                middle, width = roll, 0.8
                for _ in range(8):  # the closest point, by ever finer combs
                    angles = middle + width * np.linspace(-1, 1, 41)
                    middle, width = angles[distance(angles).argmin()], width / 10
                gaps.append(distance(np.array([middle]))[0] - self.rail_diameter / 2)
        return np.array(gaps)

    def place(self, roll):
        """Lay the frame on the arcs at a roll: both rails touch both arcs."""
        (r0, h0), (r1, h1) = self.arcs
        z0, z1 = (h - r + r * np.cos(roll) for r, h in ((r0, h0), (r1, h1)))
        pose = np.array([r0 * np.sin(roll), z0 + self.rail_diameter / 2, (z1 - z0) / self.span, 0.0])
        pose[3] = (r1 - r0) * np.sin(roll) / self.span
        for _ in range(30):
            gap = self.gaps(roll, pose)
            if np.abs(gap).max() < 1e-7:
                return pose
            steps = np.array([1e-4, 1e-4, 1e-7, 1e-7])
            slopes = [
                (self.gaps(roll, pose + step * one) - gap) / step for step, one in zip(steps, np.eye(4), strict=True)
            ]
            pose = pose - np.linalg.solve(np.array(slopes).T, gap)
        raise AssertionError("the frame does not come to rest")

    def plane(self, roll, below):
        """Return a point of the plane that the cutter's end sweeps, and the frame's directions."""
        y, z, pitch, yaw = self.place(roll)
        along, across, square = self.axes(roll, pitch, yaw)
        return np.array([0.0, y, z]) - below * square, along, across, square

    def cutter_depth(self, u, height):
        """Find how far below the rail plane the cutter must hang to cut at this height on the middle pass."""
        point, along, _, square = self.plane(0.0, 0.0)
        return (point + along * u / along[0])[2] / square[2] - height / square[2]

    def facets(self, rolls, below, u):
        """Cut one station of the board: the line that each pass leaves there, as unit normal (y, z) and offset."""
        lines = []
        for roll in rolls:
            point, _, _, square = self.plane(roll, below)
            normal, offset = square[1:], square @ point - square[0] * u
            lines.append((*(normal / np.linalg.norm(normal)), offset / np.linalg.norm(normal)))
        return np.array(lines)

    def surface(self, rolls, below, u, y, cutter):
        """Carve one station of the board: the height left at each y, cut only where the cutter passed."""
        heights = np.full((len(rolls), len(y)), np.inf)
        for row, roll in enumerate(rolls):
            point, along, across, square = self.plane(roll, below)
            z = (square @ point - square[0] * u - square[1] * y) / square[2]
            at = np.stack([np.full_like(y, u), y, z], axis=-1) - point
            heights[row] = np.where(np.abs(at @ across) <= cutter / 2 + 1e-9, z, np.inf)
        return heights.min(axis=0)


def circle_within(lines):
    """Find the circle that a set of lines touches from outside: centre and radius, least squares."""
    matrix = np.column_stack([lines[:, :2], np.ones(len(lines))])
    (y, z, radius), *_ = np.linalg.lstsq(matrix, lines[:, 2], rcond=None)
    return y, z, radius
