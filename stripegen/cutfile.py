"""What a sheet's cut file holds: its pieces in cutting order and what is cut for their sake, as the cutter is to draw it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from stripegen.cutforms import cut_past, mirrored, scaled, without_specks
from stripegen.cutorder import Cut, Travel, in_cutting_order, travel_of
from stripegen.drawing import Drawing, GroupItem, cut_drawing
from stripegen.outline import Outline, Ring, Stroke
from stripegen.sheets import Sheet
from stripegen.spec import Cutter, Vinyl
from stripegen.testcuts import pieces_to_measure
from stripegen.weedlines import weed_lines

LEAST_MM = 0.02  # a blade stops at every node: none is nearer to the next


@dataclass(frozen=True)
class CutFile:
    """The cuts of a sheet in order, and the page that they lie on. `pieces` are the ids of those that are pieces, in order;
    `measured` are the test pieces, in the sheet's frame.

    `travel` is of the knife in the sheet's own frame.
    """

    name: str
    vinyl: str
    width_mm: float
    length_mm: float
    cuts: tuple[Cut, ...]
    travel: Travel
    pieces: tuple[str, ...] = ()
    measured: dict[str, Outline] = field(default_factory=dict)

    @property
    def drawing(self) -> Drawing:
        """Each cut one path in a black hairline, and nothing else."""
        return self.numbered(1.0)

    def numbered(self, numbers_per_mm: float) -> Drawing:
        """The same in other units than millimetres."""
        paths = ((cut.id, cut.shapes) for cut in self.cuts)
        return cut_drawing(self.width_mm, self.length_mm, paths, numbers_per_mm)


def cut_file(sheet: Sheet, cutter: Cutter, test_cut: bool = False) -> CutFile:
    """The cut file of a sheet. `test_cut` adds test pieces to its waste.

    Pieces come first, then the test pieces, then the lines that part the waste. All is then cut on past its start, mirrored
    for a vinyl that is cut from its back, and stretched by what the cutter is off.
    """
    vinyl = sheet.vinyl
    rooms = _rooms(sheet)
    room, outlines = max(rooms, key=lambda each: (each[0][2] - each[0][0]) * (each[0][3] - each[0][1]))
    measured = pieces_to_measure(outlines, vinyl.piece_gap_mm, _inside(room, vinyl)) if test_cut else {}
    pieces = [(placed.piece.id, placed.cut) for placed in sheet.placed]
    cuts = in_cutting_order(pieces, cutter.band_mm)
    order = tuple(cut.id for cut in cuts)
    cuts += [Cut(name, (outline.outer,)) for name, outline in measured.items()]
    if vinyl.weed:
        outlines += measured.values()
        lines = [line for own_room, own in rooms for line in weed_lines(own, vinyl.piece_gap_mm, own_room)]
        cuts += [
            Cut(f"weed.{number}", shape.rings if isinstance(shape, Outline) else (shape,))
            for number, shape in enumerate(lines, 1)
        ]
    drawn = [Cut(cut.id, tuple(_drawn(shape, sheet, cutter) for shape in cut.shapes)) for cut in cuts]
    return CutFile(sheet.name, vinyl.name, sheet.width_mm, sheet.length_mm, tuple(drawn), travel_of(cuts), order, measured)


def _drawn(shape: Ring | Stroke, sheet: Sheet, cutter: Cutter) -> Ring | Stroke:
    shape = without_specks(shape, LEAST_MM)
    if isinstance(shape, Ring):
        shape = cut_past(shape, cutter.cut_past_mm)
    if sheet.vinyl.cut_from_back:
        shape = mirrored(shape, sheet.width_mm)
    return scaled(shape, *cutter.scale)


Room = tuple[float, float, float, float]


def _rooms(sheet: Sheet) -> list[tuple[Room, list[Outline]]]:
    """Where may be cut, between the margins, with what lies there: the sheet, or on a mat each of its offcuts."""
    margin = sheet.vinyl.margin_mm
    outlines = [placed.outline for placed in sheet.placed]
    if not sheet.is_on_mat:
        return [((margin, margin, sheet.width_mm - margin, sheet.length_mm - margin), outlines)]
    found = []
    for offcut in sheet.offcuts:
        x0, y0 = offcut.x_mm + margin, offcut.y_mm + margin
        room = x0, y0, x0 + offcut.width_mm - 2 * margin, y0 + offcut.length_mm - 2 * margin
        found.append((room, [outline for outline in outlines if _lies_in(outline, room)]))
    return found


def _inside(room: Room, vinyl: Vinyl) -> Room:
    """Where pieces may lie: a gap further in, where a frame is cut round them."""
    by = vinyl.piece_gap_mm if vinyl.weed else 0.0
    return room[0] + by, room[1] + by, room[2] - by, room[3] - by


def _lies_in(outline: Outline, room: Room) -> bool:
    x0, y0, x1, y1 = outline.bounds()
    return room[0] <= (x0 + x1) / 2 <= room[2] and room[1] <= (y0 + y1) / 2 <= room[3]


def job_drawings(files: Sequence[CutFile], numbers_per_mm: float = 1.0) -> list[Drawing]:
    """All vinyls in one drawing, a group each: the first shows each vinyl's first sheet, from the same corner, and so on."""
    by_vinyl: dict[str, list[CutFile]] = {}
    for file in files:
        by_vinyl.setdefault(file.vinyl, []).append(file)
    found = []
    for number in range(max(map(len, by_vinyl.values()), default=0)):
        shown = [(vinyl, own[number]) for vinyl, own in by_vinyl.items() if number < len(own)]
        drawings = [(vinyl, file.numbered(numbers_per_mm)) for vinyl, file in shown]
        groups = tuple(GroupItem(items=drawing.items, id=vinyl) for vinyl, drawing in drawings)
        width, length = (max(getattr(each, side) for _, each in drawings) for side in ("width_mm", "height_mm"))
        found.append(Drawing(width, length, groups))
    return found
