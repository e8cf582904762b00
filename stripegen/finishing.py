"""A line's strips as they are cut from one vinyl: what can't be weeded taken off, what is too long split.

Everything before this is the same for every vinyl.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from stripegen.corners import with_rounded_corners
from stripegen.decoration import Decoration
from stripegen.errors import Figure, Notice
from stripegen.flat import FlatPiece, lay_flat_each
from stripegen.laid import LaidLine, Strip
from stripegen.layout import Stock
from stripegen.lengthwise import Sections, Span, Way
from stripegen.nest_fit import fitting_turns
from stripegen.shapes import Shape
from stripegen.spec import Chevron, Ring, Vinyl
from stripegen.splitting import OVERLAP_MM, split
from stripegen.stock import blank_of
from stripegen.strain import strain_told
from stripegen.together import Unit, line_units
from stripegen.weeding import Weeded, weedable

SNUG_MM = 0.05  # parts keep so much more from the edges, so that any way of laying them finds room
BESIDE_MM = 1.0  # no joint lies nearer to a strip that is crossed
ALONG = 0.5  # a strip that lies on so much of another's length does not cross it

Fits = Callable[[FlatPiece], bool]


@dataclass(frozen=True)
class Finished:
    """The flat pieces of a line in order, what the maker should know of them, and the units that they make, if any."""

    pieces: tuple[FlatPiece, ...]
    notices: tuple[Notice, ...]
    units: tuple[Unit, ...] = ()


def finish(decoration: Decoration, number: int, vinyl: Vinyl, stock: Stock) -> Finished:
    """Finish a decoration's line, by number, for a vinyl of which so much can be cut.

    A piece that fits nowhere is left as it is, unless its line may be split.

    Raises GeometryError where it may and can't.
    """
    laid = decoration.lines[number]
    weeder = _Weeder(vinyl.min_width_mm)
    if laid.line.together:
        left = [[found for strip in cut.strips if (found := weeder.weeded(strip))] for cut in laid.cuts]
        units = tuple(line_units(laid, left))
        sharp = [member.flat for unit in units for member in unit.members]
        flats = with_rounded_corners(sharp, decoration, number, vinyl)
        units = _of_flats(units, flats)
        notices = (*_weed_notices(laid, weeder.found, vinyl), *_strain_notices(laid, flats, vinyl))
        return Finished(flats, notices, units)
    kept = [(strip, found) for strip in laid.strips if (found := weeder.weeded(strip))]
    flats = _laid_flat([found for _, found in kept], decoration.pieces[number])
    splitter = _Splitter(decoration, laid, vinyl, stock)
    if laid.line.split:
        whole = {id(flat.strip) for flat in flats}
        parts = [part for (strip, _), flat in zip(kept, flats, strict=True) for part in splitter.parts(flat, strip.shape)]
        strips = [part.strip if id(part.strip) in whole else weeder.weeded(part.strip) for part in parts]
        flats = _laid_flat([strip for strip in strips if strip], parts)
    notices = (
        *_split_notices(laid, splitter.parts_of, vinyl),
        *_weed_notices(laid, weeder.found, vinyl),
        *_strain_notices(laid, flats, vinyl),
    )
    return Finished(with_rounded_corners(flats, decoration, number, vinyl), notices)


def _of_flats(units: Sequence[Unit], flats: Sequence[FlatPiece]) -> tuple[Unit, ...]:
    """The same units of other flat pieces, in order."""
    left = iter(flats)
    return tuple(
        replace(unit, members=tuple(replace(member, flat=next(left)) for member in unit.members)) for unit in units
    )


def fits_in(stock: Stock, vinyl: Vinyl) -> Fits:
    """Whether a flat piece fits what can be cut of a vinyl; pieces of one outline are looked at once."""
    known: dict[tuple, bool] = {}

    def fits(flat: FlatPiece) -> bool:
        blank = blank_of("", flat, vinyl)
        key = (blank.outline, blank.slack_mm, blank.fixed_turns_deg)
        if key not in known:
            known[key] = bool(fitting_turns(blank, stock, (0.0, 90.0)))
        return known[key]

    return fits


def _laid_flat(strips: Sequence[Strip], known: Sequence[FlatPiece]) -> tuple[FlatPiece, ...]:
    """The flat pieces of strips, of which some are known."""
    by_strip = {id(flat.strip): flat for flat in known}
    new = [strip for strip in strips if id(strip) not in by_strip]
    by_strip |= {id(flat.strip): flat for flat in lay_flat_each(new)}
    return tuple(by_strip[id(strip)] for strip in strips)


def _turn_rad(strip: Strip, first: Strip) -> float:
    """How much further round the cup a copy of a strip is."""
    return strip.shape.origin[1] - first.shape.origin[1]


class _Weeder:
    """Weeds strips, copies of one once; keeps what it `found` of each."""

    def __init__(self, min_width_mm: float):
        self.min_width_mm = min_width_mm
        self.found: list[Weeded] = []
        self.known: dict[int, Weeded] = {}

    def weeded(self, strip: Strip) -> Strip | None:
        first = strip.first or strip
        if id(first) not in self.known:
            self.known[id(first)] = weedable(first, self.min_width_mm)
        found = self.known[id(first)]
        self.found.append(found)
        if found.strip is None:
            return None
        return strip if found.strip is first else found.strip.turned(_turn_rad(strip, first))


class _Splitter:
    """Splits the strips of a line where they don't fit; keeps in how many `parts_of` each."""

    def __init__(self, decoration: Decoration, laid: LaidLine, vinyl: Vinyl, stock: Stock):
        self.decoration, self.laid = decoration, laid
        more_mm = min(SNUG_MM, stock.usable_width_mm / 10, stock.usable_length_mm / 10)
        self.fits = fits_in(stock, vinyl)
        self.fits_snugly = fits_in(replace(stock, margin_mm=stock.margin_mm + more_mm), vinyl)
        self.upright = isinstance(laid.line, Chevron)
        self.parts_of: list[int] = []
        self.known: dict[tuple, tuple[Strip, list[FlatPiece]]] = {}

    def parts(self, flat: FlatPiece, own: Shape) -> list[FlatPiece]:
        """A strip's parts, in order, or the strip; `own` is its shape as it was laid."""
        if self.fits(flat):
            return [flat]
        strip, first = flat.strip, flat.strip.first or flat.strip
        sections = Sections(strip, Way(strip.middle), self.upright)
        hidden, forbidden = sections.covered(self.covers), self._crossing(sections, own)
        key = (id(first), *(tuple((round(a, 6), round(b, 6)) for a, b in spans) for spans in (hidden, forbidden)))
        if key not in self.known:
            overlap_mm = _overlap_mm(self.laid)
            self.known[key] = strip, split(flat, self.fits_snugly, overlap_mm, hidden, forbidden, self.upright)
        other, parts = self.known[key]
        self.parts_of.append(len(parts))
        if strip is other:
            return parts
        return [part.of_copy(part.strip.turned(_turn_rad(strip, other))) for part in parts]

    @cached_property
    def covers(self) -> list[Shape]:
        """Regions of the lines under which this one goes, on its own wall."""
        lines = [other for other in self.decoration.lines if other.line.name in self.laid.line.under]
        return [shape for other in lines for shape in other.region_on(self.laid.site)]

    @cached_property
    def others(self) -> list[Shape]:
        """Every other strip, and the line's own, on its own wall."""
        lines = [other for other in self.decoration.lines if other.line.name not in self.laid.line.under]
        wall = self.laid.site.wall
        return [strip.shape.carried(wall) for other in lines for strip in other.strips]

    def _crossing(self, sections: Sections, own: Shape) -> list[Span]:
        """Where a strip crosses others and next to that; not those along which it lies."""
        found = []
        for shape in self.others:
            spans = sections.crossed([shape]) if shape is not own else []
            if sum(high - low for low, high in spans) < ALONG * sections.places[-1]:
                found += [(low - BESIDE_MM, high + BESIDE_MM) for low, high in spans]
        return found


def _overlap_mm(laid: LaidLine) -> float:
    """A ring's own; a chevron's, if it has any, since its points need none."""
    if isinstance(laid.line, Ring):
        return laid.line.overlap_mm
    return getattr(laid.line, "overlap_mm", 0.0) or OVERLAP_MM


def _split_notices(laid: LaidLine, parts_of: Sequence[int], vinyl: Vinyl) -> list[Notice]:
    if not parts_of:
        return []
    overlap_mm = _overlap_mm(laid)
    how = f"overlap by {overlap_mm:g} mm" if overlap_mm else "meet end to end"
    message = f"{_counted(len(parts_of), 'strip')} too long for {vinyl.name}: cut in {sum(parts_of)} parts that {how}"
    figures = (Figure("strips", len(parts_of), ""), Figure("parts", sum(parts_of), ""), Figure("overlap", overlap_mm))
    return [Notice(code="split", line=laid.line.name, message=message, figures=figures)]


def _strain_notices(laid: LaidLine, flats: Sequence[FlatPiece], vinyl: Vinyl) -> list[Notice]:
    strained = [flat for flat in flats if flat.strain > vinyl.stretch]
    if not strained:
        return []
    width_mm = max(flat.width_mm for flat in strained)
    centres = list({id(flat.strip.first or flat.strip): flat.strip.middle for flat in strained}.values())
    strain = max(flat.strain for flat in strained)
    message, remedy = strain_told(centres, width_mm, strain, vinyl.stretch, vinyl.name)
    figures = (Figure("strain", 100 * strain, "%"), Figure("stretch", 100 * vinyl.stretch, "%"), Figure("width", width_mm))
    return [Notice(code="strain", line=laid.line.name, message=message, remedy=remedy, figures=figures)]


def _weed_notices(laid: LaidLine, weeded: Sequence[Weeded], vinyl: Vinyl) -> list[Notice]:
    found: list[Notice] = []
    width, least = f"{vinyl.min_width_mm:g} mm, the least that {vinyl.name} can be weeded at", Figure("least", vinyl.min_width_mm)

    def tell(code: str, message: str, *figures: Figure) -> None:
        found.append(Notice(code=code, line=laid.line.name, message=message, figures=(least, *figures)))

    dropped = [each.seen_mm for each in weeded if each.strip is None]
    tips = [length for each in weeded for length in each.tips_mm]
    left = sum(each.left for each in weeded)
    if dropped:
        message = f"{_counted(len(dropped), 'strip')} nowhere as wide as {width}: dropped, of which {max(dropped):.1f} mm "
        tell("too-narrow", message + "at most would be seen", Figure("strips", len(dropped), ""), Figure("seen", max(dropped)))
    if tips:
        message = f"{_counted(len(tips), 'tip')} narrower than {width}: cut off, by {max(tips):.1f} mm at most"
        shorter = max(each.seen_mm for each in weeded if each.tips_mm)
        if shorter > vinyl.min_width_mm:
            message += f", and its strips by up to {shorter:.1f} mm of what is seen"
        tell("blunted", message, Figure("tips", len(tips), ""), Figure("longest", max(tips)))
    if left:
        message = f"{_counted(left, 'tip')} narrower than {width}, and too long to be cut off"
        tell("thin-tip", message, Figure("tips", left, ""))
    return found


def _counted(count: int, noun: str) -> str:
    return f"one {noun} is" if count == 1 else f"{count} {noun}s are"
