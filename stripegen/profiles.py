"""A bare cup's wall as measured, and the reading of a `profile`: the points of a wall that is not straight."""

from __future__ import annotations

import math
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from stripegen.errors import GeometryError
from stripegen.smooth import SmoothWall
from stripegen.spec import ProfilePoint
from stripegen.tables import Table, show
from stripegen.units import LENGTH_LIMIT_MM, parse_length

AGREE_MM = 0.5
NEAREST_MM = 0.01  # points nearer than this to each other are a slip, and make no sound section
POINTS_MOST = 200
STRAIGHT_MM = 1e-9

_POINTS = "{ height = 0, diameter = 60 }, { height = 40, circumference = 245 }"
_ROUND = "{ diameter = 86 } or { circumference = 270.2 }"


class MeasuredWall(NamedTuple):
    """A wall: radius at the rim and at the base, its length, and its points where it is not straight."""

    rim_mm: float
    base_mm: float
    length_mm: float
    profile: tuple[ProfilePoint, ...] = ()
    smooth: bool = False

    def least_radius_mm(self, from_mm: float, to_mm: float) -> float:
        """The least radius between two places down the wall; beyond an end it is that of the end.

        A smooth wall is taken as straight between its points here.
        """
        radii_mm = [point.radius_mm for point in self.profile] or [self.rim_mm, self.base_mm]
        chords_mm = [math.dist(*pair) for pair in pairwise(self.profile)] or [self.length_mm]
        downs_mm = np.append(0.0, np.cumsum(chords_mm))
        downs_mm *= self.length_mm / downs_mm[-1]
        ends_mm = np.interp((from_mm, to_mm), downs_mm, radii_mm)
        between = (from_mm < downs_mm) & (downs_mm < to_mm)
        return float(min(*ends_mm, *np.asarray(radii_mm)[between]))


def read_radius(table: Table) -> float | None:
    """Read half a width, mm, from the diameter or the circumference, whichever of the two a table has."""
    if ("diameter" in table) == ("circumference" in table):
        table.fault_whole(f"must have one of the two: {_ROUND}")
        return None
    if "diameter" in table:
        diameter_mm = table.length("diameter", above_mm=0)
        return None if diameter_mm is None else diameter_mm / 2
    circumference_mm = table.length("circumference", above_mm=0)
    return None if circumference_mm is None else circumference_mm / math.tau


def read_profile(table: Table, wall_mm: float | None, *, checked: bool = True) -> MeasuredWall | None:
    """Read the keys `profile` and `smooth` of a cup table. None after a fault.

    Parameters
    ----------
    wall_mm : the length along the wall, if that was measured too; the profile's own is what holds
    checked : whether those two must agree
    """
    for key in ("rim", "base", "girths", "height"):
        if key in table:
            table.fault(key, "can't stand beside profile, whose points say it: leave one out")
    smooth = table.boolean("smooth", False)
    points = _read_points(table)
    if not table.is_sound:
        return None
    _check_order(table, points)
    if table.is_sound and smooth:
        _check_smooth(table, points)
    if not table.is_sound:
        return None
    if points[0].height_mm < points[-1].height_mm:
        points.reverse()
    wall = _wall_through(table, tuple(points), smooth)
    if wall is None:
        return None
    if wall.length_mm > LENGTH_LIMIT_MM:
        table.fault("profile", "makes a wall of more than 10 m; check its unit")
    elif checked and wall_mm is not None and abs(wall_mm - wall.length_mm) > AGREE_MM:
        table.fault(
            "wall",
            f"must agree within {AGREE_MM:g} mm with the profile, which makes it {wall.length_mm:.2f} mm long"
            f" where wall says {wall_mm:.2f} mm; measure again, or leave wall out",
        )
    return wall if table.is_sound else None


def _read_points(table: Table) -> list[ProfilePoint]:
    entries = table.children("profile", _POINTS)
    if table.is_sound and not 2 <= len(entries) <= POINTS_MOST:
        right = f"must be two points or more, such as [ {_POINTS} ]"
        if len(entries) > POINTS_MOST:
            right = f"must hold at most {POINTS_MOST} points"
        table.fault("profile", right, read=f"{len(entries)} point{'s' * (len(entries) != 1)}")
        return []
    points = []
    for entry in entries:
        height_mm = entry.read("height", lambda value: parse_length(value, table.unit))
        radius_mm = read_radius(entry)
        entry.finish(("height", "diameter", "circumference"))
        if height_mm is not None and radius_mm is not None:
            points.append(ProfilePoint(radius_mm, height_mm))
    return points


def _shown(point: ProfilePoint) -> str:
    return f"{2 * point.radius_mm:.2f} mm wide at a height of {point.height_mm:.2f} mm"


def _check_order(table: Table, points: list[ProfilePoint]) -> None:
    """Fault points that make no wall, or one that folds over."""

    def fault(n: int, right: str) -> None:
        table.fault("profile", right, read=_shown(points[n - 1]), entry=n - 1)

    heights_mm = [point.height_mm for point in points]
    if max(heights_mm) - min(heights_mm) < NEAREST_MM:
        table.fault("profile", "has no wall: its points lie at one height")
        return
    rises = [later - former for former, later in pairwise(heights_mm)]
    upward = next(rise for rise in rises if rise) > 0
    for n, (pair, rise) in enumerate(zip(pairwise(points), rises, strict=True), start=2):
        if math.dist(*pair) < NEAREST_MM:
            fault(n, f"is at the place of the point before it (within {NEAREST_MM:g} mm): leave it out")
        elif rise and (rise > 0) != upward:
            ways = ("rose", "falls") if upward else ("fell", "rises")
            fault(
                n,
                f"folds the wall over: the heights {ways[0]} up to the point before it and here one {ways[1]};"
                " from point to point they must all rise or all fall",
            )
    n = 0
    for _, ledge in groupby(points, key=lambda point: point.height_mm):
        radii_mm = [point.radius_mm for point in ledge]
        steps = [later - former for former, later in pairwise(radii_mm)]
        for at, step in enumerate(steps, start=n + 2):
            if step * steps[0] < 0:
                fault(at, "folds the ledge over: along it the points must all go outwards or all inwards")
        n += len(radii_mm)


def _check_smooth(table: Table, points: list[ProfilePoint]) -> None:
    if len(points) < 3:
        table.fault("smooth", "needs three points or more; through two the wall is straight: leave it out")
        return
    for n, (former, later) in enumerate(pairwise(points), start=2):
        if abs(later.height_mm - former.height_mm) < NEAREST_MM:
            table.fault(
                "smooth",
                f"needs points at heights that differ, and number {n} of the profile is as high as the one before it"
                f" (within {NEAREST_MM:g} mm): leave out smooth, or that ledge",
            )


def _wall_through(table: Table, points: tuple[ProfilePoint, ...], smooth: bool) -> MeasuredWall | None:
    """The wall through points from the rim down; a straight one where they all lie on one line."""
    rim, base = points[0], points[-1]
    chord_mm = math.dist(rim, base)
    across, up = base.radius_mm - rim.radius_mm, base.height_mm - rim.height_mm
    off_mm = max(
        abs((p.radius_mm - rim.radius_mm) * up - (p.height_mm - rim.height_mm) * across) / chord_mm
        for p in points
    )
    if off_mm <= STRAIGHT_MM:
        return MeasuredWall(rim.radius_mm, base.radius_mm, chord_mm)
    if not smooth:
        length_mm = math.fsum(math.dist(*pair) for pair in pairwise(points))
    else:
        try:
            length_mm = SmoothWall.through(points).wall_mm
        except GeometryError as error:
            table.fault("profile", str(error), read=show(table.values["profile"]))
            return None
    return MeasuredWall(rim.radius_mm, base.radius_mm, length_mm, points, smooth)
