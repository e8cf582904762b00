"""Flat pieces for the tests of layouts, drawn by their measures, and random jobs of them."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from stripegen.layout import Blank, Stock


def at_origin(points) -> tuple[tuple[float, float], ...]:
    """The ring moved so that its box starts at (0, 0)."""
    rounded = [(round(float(x), 4), round(float(y), 4)) for x, y in points]
    left, top = min(x for x, _ in rounded), min(y for _, y in rounded)
    return tuple((x - left, y - top) for x, y in rounded)


def strip(width: float, length: float):
    return at_origin([(0, 0), (width, 0), (width, length), (0, length)])


def mitred(width: float, length: float, first: float, second: float):
    """A strip whose ends slant by so much."""
    return at_origin([(0, 0), (width, first), (width, length + second), (0, length)])


def arc(width: float, radius: float, sweep: float, steps: int = 24):
    turns = [sweep * (k / steps - 0.5) for k in range(steps + 1)]
    outer = [(radius * math.sin(t), -radius * math.cos(t)) for t in turns]
    inner = [((radius - width) * math.sin(t), -(radius - width) * math.cos(t)) for t in reversed(turns)]
    return at_origin(outer + inner)


def ell(width: float, length: float, foot: float):
    return at_origin(
        [(0, 0), (length, 0), (length, width), (width, width), (width, width + foot), (0, width + foot)]
    )


def turned(points, degrees: float):
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return at_origin([(x * cos - y * sin, x * sin + y * cos) for x, y in points])


def frame(width: float, height: float, rim: float):
    """Outline and hole of a frame."""
    inner = ((rim, rim), (width - rim, rim), (width - rim, height - rim), (rim, height - rim))
    return at_origin([(0, 0), (width, 0), (width, height), (0, height)]), (inner,)


def blanks_of(*outlines, count: int = 1, **options) -> list[Blank]:
    """`count` blanks of each outline, keyed p0, p1, ..."""
    rings = [outline for outline in outlines for _ in range(count)]
    return [Blank(key=f"p{k}", outline=ring, **options) for k, ring in enumerate(rings)]


def sizes(least: float, most: float):
    return st.floats(least, most).map(lambda value: round(value, 3))


SHAPES = st.one_of(
    st.builds(strip, sizes(2, 9), sizes(10, 90)),
    st.builds(mitred, sizes(2, 9), sizes(15, 90), sizes(-6, 6), sizes(-6, 6)),
    st.builds(arc, sizes(2, 6), sizes(40, 300), sizes(0.1, 0.3)),
    st.builds(arc, sizes(2, 6), sizes(15, 30), sizes(1, 3)),
    st.builds(ell, sizes(2, 8), sizes(15, 60), sizes(5, 40)),
    st.builds(turned, st.builds(strip, sizes(2, 9), sizes(10, 90)), sizes(0, 180)),
)
TURNS = st.sampled_from(["any", "any", "upright", "upright-flip", "along", "along-flip"])


@st.composite
def jobs(draw) -> tuple[list[Blank], Stock]:
    """A few shapes, some of them several times, all of which fit the stock."""
    blanks: list[Blank] = []
    for number in range(draw(st.integers(1, 4))):
        holes = ()
        if draw(st.integers(0, 5)) == 0:
            outline, holes = frame(draw(sizes(20, 40)), draw(sizes(20, 40)), draw(sizes(3, 8)))
        else:
            outline = draw(SHAPES)
        turns = draw(TURNS)
        options = {
            "outline": outline,
            "holes": holes,
            "slack_mm": draw(st.sampled_from([0.0, 0.0, 0.005])),
            "turns": turns,
            "lean_deg": draw(sizes(-180, 180)) if turns.startswith("along") else 0.0,
        }
        copies = draw(st.sampled_from([1, 1, 2, 5, 12]))
        blanks += [Blank(key=f"{number}.{copy}", **options) for copy in range(copies)]
    stock = Stock(
        width_mm=draw(sizes(125, 200)),
        length_mm=draw(st.one_of(st.none(), sizes(125, 300))),
        margin_mm=draw(st.sampled_from([0.0, 5.0, 3.175])),
        gap_mm=draw(st.sampled_from([0.0, 1.5, 0.7])),
    )
    return blanks, stock
