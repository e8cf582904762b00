"""Printed panels as a cup or an order says them: where they lie, and their colour or picture."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from pathlib import PureWindowsPath
from typing import TYPE_CHECKING

from stripegen.errors import Steps, Where
from stripegen.nearmiss import did_you_mean
from stripegen.tables import Table, parse_colour

if TYPE_CHECKING:
    from stripegen.spec import Around

_PANEL = '{ from = "front", to = "back", image = "art.png" }'
KEYS = ("from", "to", "top", "bottom", "colour", "image")
SUFFIXES = (".png", ".jpg", ".jpeg")
LONGEST_NAME = 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """What is printed on a part of the wall, from one place round the cup to another to its right.

    It reaches from `top_mm` down to `bottom_mm`; None: to the wall's end. `image` is a file's name; what it shows is
    drawn out over the panel.
    """

    from_around: Around
    to_around: Around
    top_mm: float | None = None
    bottom_mm: float | None = None
    colour: str | None = None
    image: str | None = None
    where: Where = field(default_factory=lambda: Where("", ""), compare=False)

    def __post_init__(self) -> None:
        if self.colour is None and self.image is None:
            raise ValueError("a panel needs a colour or an image")
        if self.top_mm is not None and self.bottom_mm is not None and self.top_mm >= self.bottom_mm:
            raise ValueError(f"top_mm must be less than bottom_mm: got {self.top_mm} and {self.bottom_mm}")


def read_panels(table: Table, seams: Collection[str] | None = None) -> tuple[Panel, ...]:
    """Read the key `panels` of a cup or an order, without those at fault. Places may be `seams`; None: any."""
    panels = []
    for entry in table.children("panels", _PANEL):
        start, end = entry.place("from"), entry.place("to")
        top_mm, bottom_mm = entry.length("top", None), entry.length("bottom", None, above_mm=0)
        colour = entry.read("colour", parse_colour, None)
        image = entry.read("image", _parse_image, None)
        entry.finish(KEYS)
        for key, place in (("from", start), ("to", end)):
            if seams is not None and isinstance(place, str) and place not in seams:
                entry.fault(key, right_of_seam(place, seams))
        if entry.is_sound and colour is None and image is None:
            entry.fault_whole(f"shows nothing: must have a colour or an image, such as {_PANEL}")
        if entry.is_sound and None not in (top_mm, bottom_mm) and top_mm >= bottom_mm:
            entry.fault("bottom", "must be farther down than top")
        if entry.is_sound:
            panels.append(
                Panel(
                    from_around=start,
                    to_around=end,
                    top_mm=top_mm,
                    bottom_mm=bottom_mm,
                    colour=colour,
                    image=image,
                    where=table.where.inner(table.where.table, *entry.steps),
                )
            )
    return tuple(panels)


def panel_seams_missing(panels: Collection[Panel], seams: Collection[str]) -> Iterator[tuple[Steps, str, str]]:
    """Every seam that panels name and the cup lacks: the way to its key, its name and what would be right."""
    for number, panel in enumerate(panels):
        for key, place in (("from", panel.from_around), ("to", panel.to_around)):
            if isinstance(place, str) and place not in seams:
                yield ("panels", number, key), place, right_of_seam(place, seams)


def right_of_seam(name: str, seams: Collection[str]) -> str:
    """What to say of a seam that the cup lacks."""
    return f"must be a seam of this cup, which has {', '.join(sorted(seams))}{did_you_mean(name, seams)}"


def _parse_image(value: object) -> str:
    right = "must be the name of a PNG or JPEG file beside the job file, such as \"art.png\""
    if not isinstance(value, str) or not value.isprintable() or len(value) > LONGEST_NAME:
        raise ValueError(right)
    if not value.lower().endswith(SUFFIXES):
        raise ValueError(right)
    path = PureWindowsPath(value)  # which takes both kinds of slashes
    if path.anchor or path.drive or ".." in path.parts:
        raise ValueError(f"{right}, or in a folder there")
    return value
