"""An earlier manifest read back: its pieces' shapes, and the vinyl that they were cut of, without the job."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from stripegen.errors import NestError, Where
from stripegen.layout import Blank
from stripegen.manifestfile import UNREADABLE, manifest_of, refusal, told_of
from stripegen.outline import Outline, Point, Ring
from stripegen.production import Piece
from stripegen.spec import Cutter, Offcut, Vinyl
from stripegen.tables import is_name, show
from stripegen.units import LENGTH_LIMIT_MM

ANY_COLOUR = "#000000"  # nothing that is cut shows one
_ID = re.compile(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+){3,}")
_NAMES = re.compile(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*")
_STEPS = 400  # round a shape, to find its middle


@dataclass(frozen=True)
class ReadPiece:
    """A flat piece as a manifest holds it, in place of a FlatPiece where it is placed, cut and told.

    Its outline is the manifest's polygon. `turn_rad` is how it lay, where the grain ran along it; None: no matter.
    """

    points: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...]
    width_mm: float
    true_mm: float
    cut_mm: float
    strain: float
    start: tuple[float, float]
    end: tuple[float, float]
    turn_rad: float | None = None
    slack_mm: float = 0.0

    def at_corner(self) -> ReadPiece:
        """The piece in a frame of its own: with rounded tips the manifest's need not begin at (0, 0)."""
        left, top = (min(values) for values in zip(*self.points, strict=True))

        def moved(ring: tuple[Point, ...]) -> tuple[Point, ...]:
            return tuple((round(x - left, 4) + 0.0, round(y - top, 4) + 0.0) for x, y in ring)

        return replace(self, points=moved(self.points), holes=tuple(map(moved, self.holes)))

    @property
    def cut_outline(self) -> Outline:
        return Outline(Ring.through(self.points), tuple(map(Ring.through, self.holes)))

    @property
    def cut_points(self) -> tuple[tuple[Point, ...], tuple[tuple[Point, ...], ...]]:
        return self.points, self.holes

    @property
    def middle(self) -> Point:
        return self._about_middle[0]

    @property
    def lean_rad(self) -> float:
        """The turn that lays its length along the sheet's y."""
        return self._about_middle[1] if self.turn_rad is None else self.turn_rad

    @cached_property
    def _about_middle(self) -> tuple[Point, float]:
        return middle_of(shapely.Polygon(self.points, self.holes))


@dataclass(frozen=True)
class Earlier:
    """What an earlier result holds: pieces in its order, its vinyls by name and the cutter.

    `sha256` is of the manifest. `plain` are the vinyls of which it does not tell how they are cut. `offcuts` is what it left
    over.
    """

    file: str
    sha256: str
    job: str | None
    pieces: tuple[Piece, ...]
    vinyls: dict[str, Vinyl]
    cutter: Cutter
    plain: tuple[str, ...] = ()
    offcuts: tuple[Offcut, ...] = ()


def read_back(data: bytes, file: str) -> Earlier:
    """A manifest of `nest` or `strips`. Raises JobError, one line, where it is none or can't be understood."""
    manifest = manifest_of(data, file)
    try:
        job = manifest["job"]
        rows = {sheet["name"]: sheet for sheet in manifest["sheets"]}
        vinyls = {name: _vinyl(name, sheets, file) for name, sheets in _by_vinyl(rows).items()}
        pieces = tuple(_piece(row, vinyls, rows) for row in manifest["pieces"])
        cutters = [_cutter(sheet["cutter"]) for sheet in rows.values() if "cutter" in sheet]
        left = (manifest.get("leftovers") or {}).get("offcuts", ())
        offcuts = tuple(_offcut(row, file) for row in left)
        plain = tuple(name for name, own in _by_vinyl(rows).items() if not any("film" in sheet for sheet in own))
    except UNREADABLE as error:
        raise refusal(file, f"it is no whole manifest of strips on sheets: {told_of(error)}") from None
    if len({piece.id for piece in pieces}) < len(pieces):
        raise refusal(file, "it is no whole manifest: two pieces have the same id")
    digest = hashlib.sha256(data).hexdigest()
    job = job if isinstance(job, str) else None
    return Earlier(file, digest, job, pieces, vinyls, cutters[0] if cutters else Cutter(), plain, offcuts)


def _by_vinyl(rows: Mapping[str, Mapping]) -> dict[str, list[Mapping]]:
    found: dict[str, list[Mapping]] = {}
    for sheet in rows.values():
        found.setdefault(sheet["vinyl"], []).append(sheet)
    return found


def _vinyl(name: object, sheets: list[Mapping], file: str) -> Vinyl:
    """A vinyl as its sheets tell of it; a sheet that is as long as it is used is taken for a roll's."""
    if not is_name(name):
        raise ValueError(f"{show(name)} is no name of a vinyl")
    for sheet in sheets:
        if "film" in sheet:
            film = sheet["film"]
            more = {
                "margin_mm": _length_mm(film["margin"]),
                "piece_gap_mm": _length_mm(film["piece_gap"]),
                "grain": film["grain"],
                "flip": bool(film["flip"]),
                "cut_from_back": bool(film["cut_from_back"]),
                "weed": bool(film["weed"]),
            }
            width, length = film["width"], film["length"]
            break
    else:
        sheet = next((sheet for sheet in sheets if not sheet.get("offcuts")), sheets[0])
        width, length, more = sheet["width"], sheet["length"], {}
        if length - sheet["used_length"] < 1e-3 and not sheet.get("offcuts"):
            length = None
    length = None if length is None else float(length)
    return Vinyl(name=name, colour=ANY_COLOUR, width_mm=float(width), length_mm=length, where=Where(file, name), **more)


def _cutter(row: Mapping) -> Cutter:
    across, along = row["scale"]
    return Cutter(
        cut_width_mm=row["cut_width"],
        longest_run_mm=row["longest_run"],
        band_mm=_length_mm(row["band"]),
        cut_past_mm=_length_mm(row["cut_past"]),
        scale=(float(across), float(along)),
        mat_mm=tuple(map(float, row["mat"])) if row.get("mat") else None,
    )


def _offcut(row: Mapping, file: str) -> Offcut:
    sizes = {f"{size}_mm": float(row[size]) for size in ("width", "length")}
    return Offcut(vinyl=row["vinyl"], quantity=int(row["quantity"]), where=Where(file, "leftovers"), **sizes)


def _piece(row: Mapping, vinyls: Mapping[str, Vinyl], sheets: Mapping[str, Mapping]) -> Piece:
    piece_id, vinyl = row["id"], vinyls[row["vinyl"]]
    if not (isinstance(piece_id, str) and _ID.fullmatch(piece_id)):
        raise ValueError(f"{show(piece_id)} is no piece's id")
    for key in ("order", "line"):
        if not (isinstance(row[key], str) and _NAMES.fullmatch(row[key])):
            raise ValueError(f"{show(row[key])} is no name of {'an order' if key == 'order' else 'a line'}")
    if sheets[row["sheet"]]["vinyl"] != vinyl.name:
        raise ValueError(f"{piece_id} lies on a sheet of another vinyl")
    outer, holes = _ring(row["outline"]), tuple(map(_ring, row["holes"]))
    turn_rad = math.radians(float(row["placement"]["turn"]))
    flat = ReadPiece(
        points=outer,
        holes=holes,
        width_mm=float(row["width"]),
        true_mm=float(row["true_length"]),
        cut_mm=float(row["cut_length"]),
        strain=float(row["strain"]),
        start=_place(row["start"]),
        end=_place(row["end"]),
        turn_rad=turn_rad if vinyl.grain == "strip" else None,
    )
    own = flat.at_corner()
    try:
        Blank(key=piece_id, outline=own.points, holes=own.holes)
    except NestError as error:
        raise ValueError(str(error)) from None
    spare_no = int(row.get("spare", 0))
    cup_no = 0 if spare_no else int(row["cup_no"])
    return Piece(piece_id, row["order"], cup_no, row["line"], vinyl.name, flat, spare_no=spare_no)


def _length_mm(value: object) -> float:
    length_mm = float(value)
    if not 0 <= length_mm <= LENGTH_LIMIT_MM:
        raise ValueError(f"{show(value)} is no length")
    return length_mm


def _ring(points: object) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _place(row: Mapping) -> tuple[float, float]:
    return math.radians(float(row["around"])), float(row["down"])


def middle_of(polygon: shapely.Polygon) -> tuple[Point, float]:
    """About where a strip's middle is, and the turn that lays its length along y there.

    Half way round its outline from one another its two sides lie nearest at its middle. It serves to write its mark on it.
    """
    ring = polygon.exterior
    steps = np.arange(_STEPS // 2) / _STEPS
    here = shapely.get_coordinates(shapely.line_interpolate_point(ring, steps, normalized=True))
    over = shapely.get_coordinates(shapely.line_interpolate_point(ring, steps + 0.5, normalized=True))
    apart = np.hypot(*(over - here).T)
    least = int(np.argmin(apart))
    x, y = (here[least] + over[least]) / 2
    dx, dy = _along(ring, float(steps[least]))
    return (float(x), float(y)), math.atan2(dx, dy)


def _along(ring: shapely.LinearRing, share: float) -> tuple[float, float]:
    """The direction of the outline at a share of its length."""
    step = 0.25 / _STEPS
    a, b = (ring.interpolate((share + by) % 1.0, normalized=True) for by in (-step, step))
    length = math.hypot(b.x - a.x, b.y - a.y) or 1.0
    return (b.x - a.x) / length, (b.y - a.y) / length
