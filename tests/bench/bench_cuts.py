"""What cut files are like: nodes a piece, how far the knife travels, how long they take to write; as ratios.

python tests/bench/bench_cuts.py [PIECES]     a week of about so many pieces for the writing (default 10,000)

Travel is compared with cutting in the order in which the pieces were placed, and with a tour of the same starting points,
in that order, improved by 2-opt alone, which knows no bands.
"""

from __future__ import annotations

import sys
import time
from functools import partial

import numpy as np

from stripegen.cutfile import cut_file
from stripegen.cutorder import Cut, travel_of
from stripegen.jobfile import parse_job
from stripegen.nest import nest
from stripegen.outline import Outline
from stripegen.presets import find_preset, shipped_folder
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.sheets import lay_out
from stripegen.spec import Cutter
from stripegen.writers.dxf import cut_dxf
from stripegen.writers.pdf import drawing_pdf
from stripegen.writers.svg import drawing_svg

MOST_FOR_TWO_OPT = 400


def demo_week():
    path = shipped_folder() / "jobs" / "demo-week.toml"
    return produce(parse_job(path.read_text(encoding="utf-8"), path.name, find_preset))


def two_opt(points: np.ndarray) -> float:
    """The length of a way from (0, 0) through all points, stretches of it turned round while that makes it shorter."""
    way = np.concatenate([[(0.0, 0.0)], points])
    better = True
    while better:
        better = False
        for i in range(1, len(way) - 1):
            ends = way[i + 1 :]
            after = np.concatenate([way[i + 2 :], [way[-1]]])
            was = np.hypot(*(way[i - 1] - way[i]).T) + np.hypot(*(ends - after).T)
            now = np.hypot(*(way[i - 1] - ends).T) + np.hypot(*(way[i] - after).T)
            now[-1] -= np.hypot(*(way[i] - way[-1]))  # the last has nothing after it
            gain = was - now
            best = int(np.argmax(gain))
            if gain[best] > 1e-9:
                way[i : i + 2 + best] = way[i : i + 2 + best][::-1]
                better = True
    return float(np.hypot(*np.diff(way, axis=0).T).sum())


def travels(sheets) -> None:
    print("sheet                  pieces  up mm  back mm  over order placed: up, back  over 2-opt: up  s")
    for sheet in sheets:
        began = time.perf_counter()
        file = cut_file(sheet, Cutter())
        seconds = time.perf_counter() - began
        placed = [(each.piece.id, each.cut) for each in sheet.placed]
        plain = travel_of([Cut(name, shape.rings[::-1] if isinstance(shape, Outline) else (shape,)) for name, shape in placed])
        own = file.travel
        starts = np.array([shape.rings[0].start if isinstance(shape, Outline) else shape.start for _, shape in placed])
        other = two_opt(starts) if len(starts) <= MOST_FOR_TWO_OPT else float("nan")
        print(
            f"{sheet.name:22} {len(placed):6} {own.up_mm:6.0f} {own.back_mm:8.0f} {own.up_mm / plain.up_mm:20.2f} "
            f"{own.back_mm / plain.back_mm:5.2f} {own.up_mm / other:14.2f} {seconds:6.2f}"
        )


def nodes(production) -> None:
    shapes = {id(piece.flat.cut_outline): piece.flat for piece in production.pieces}.values()
    ours = sum(len(ring.edges) for flat in shapes for ring in flat.cut_outline.rings)
    polygons = sum(len(flat.cut_points[0]) for flat in shapes)
    print(f"nodes a piece: {ours / len(shapes):.1f}, of polygons as close {polygons / len(shapes):.1f}, ratio {ours / polygons:.2f}")


def writing(count: int) -> None:
    orders = [("tall-tapered", "sash"), ("steep-tapered", "lattice"), ("bellied-mug", "spiral"), ("shouldered", "double-seams")]
    made = sum(len(produce(parse_job(order(*each, 1), "w", find_preset)).pieces) for each in orders)
    production = produce(parse_job("".join(order(*each, count // made) for each in orders), "w", find_preset))
    sheets = lay_out(production, "strips", lay_in_reading_order, prove)
    pieces = len(production.pieces)
    began = time.perf_counter()
    files = [cut_file(sheet, Cutter()) for sheet in sheets]
    ordered = time.perf_counter() - began
    print(f"{pieces} pieces on {len(sheets)} sheets: put in order in {ordered:.1f} s")
    base = None
    for name, write in (("SVG", lambda file: drawing_svg(file.drawing)), ("PDF", lambda file: drawing_pdf(file.drawing)), ("DXF", cut_dxf)):
        began = time.perf_counter()
        size = sum(len(write(file)) for file in files)
        seconds = time.perf_counter() - began
        base = base or seconds
        print(f"  {name}: {seconds:.1f} s, {seconds / base:.2f} of SVG, {1000 * seconds / pieces:.2f} ms a piece, {size / 1e6:.1f} MB")


def order(cup: str, pattern: str, quantity: int) -> str:
    name = f"{cup}-{pattern}"
    return f'[[order]]\nid = "{name}"\ncup = "{cup}"\npattern = "{pattern}"\nvinyl = "matt-black"\nquantity = {max(1, quantity)}\n'


def main() -> None:
    production = demo_week()
    nodes(production)
    travels(lay_out(production, "sheet", partial(nest, effort="quick"), prove))
    writing(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)


if __name__ == "__main__":
    main()
