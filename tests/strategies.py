"""Cups, sites and lines as values: hypothesis strategies, and seeded random ones for long sweeps."""

from __future__ import annotations

import math
from random import Random

from hypothesis import strategies as st

from stripegen.curves import Curve, Parallel, Round, Straight
from stripegen.errors import GeometryError
from stripegen.margins import cross_edge
from stripegen.sections import SectionWall
from stripegen.shapes import Edge, Shape
from stripegen.slants import EvenDrop, SameSlant
from stripegen.smooth import SmoothWall
from stripegen.spec import (
    Chevron,
    Cup,
    Diagonal,
    Down,
    Keepout,
    Line,
    Pattern,
    ProfilePoint,
    Repeat,
    Ring,
    Seam,
    Vertical,
)
from stripegen.surface import Frustum

PATHS = ("straight", "same-slant", "even-drop")


def upright(name: str, around: float) -> Seam:
    return Seam(name=name, rim=around, base=around)


def a_cup(rim: float, base: float, wall: float, **more) -> Cup:
    """A cup with the two seams that every cup has, unless told otherwise."""
    seams = {"front": upright("front", 0.0), "back": upright("back", math.pi)} | more.pop("seams", {})
    return Cup(name="cup", rim_radius_mm=rim, base_radius_mm=base, wall_mm=wall, seams=seams, **more)


CUPS = {
    "cylinder": a_cup(40.0, 40.0, 120.0),
    "hair": a_cup(40.0, 40.0 - 1e-13, 120.0),
    "nearly": a_cup(40.0, 40.0 - 1.2e-6, 120.0),
    "shallow": a_cup(43.0, 39.0, 130.0),
    "coated": a_cup(43.0, 31.0, 152.0, resin_mm=0.8),
    "steep": a_cup(60.0, 28.0, 70.0),
    "wider": a_cup(30.0, 42.0, 110.0, resin_mm=0.4),
}


def box(wall: Frustum, around0: float, around1: float, down0: float, down1: float) -> Shape:
    """Between two meridians and two parallels."""
    return Shape(
        (
            Edge(Parallel(wall, down0), around0, around1),
            Edge(Straight(wall, around1, 0.0, 0.0), down0, down1),
            Edge(Parallel(wall, down1), around1, around0),
            Edge(Straight(wall, around0, 0.0, 0.0), down1, down0),
        )
    )


def disc(wall: Frustum, around: float, down: float, radius: float) -> Shape:
    curve = Round(wall, around, down, radius)
    return Shape((Edge(curve, 0.0, 2.0), Edge(curve, 2.0, 4.0), Edge(curve, 4.0, math.tau)))


def ribbon(curve: Curve, t0: float, t1: float, low: float, high: float) -> Shape:
    """From one distance beside a curve to another, its ends square."""
    return Shape(
        (
            Edge(curve.parallel(low), t0, t1),
            cross_edge(curve, t1, low, high),
            Edge(curve.parallel(high), t1, t0),
            cross_edge(curve, t0, high, low),
        )
    )


@st.composite
def cups(draw, keepouts: int = 0):
    """Any cup with a straight wall: narrower or wider at its base, or plain, steep or nearly plain."""
    wall = draw(st.floats(70.0, 180.0))
    rim = draw(st.floats(25.0, 60.0))
    slope = draw(
        st.one_of(
            st.sampled_from((0.0, 1e-16, -1e-12, 1e-9, -1e-6)), st.floats(-0.25, 0.25), st.floats(-0.5, 0.5)
        )
    )
    base = max(15.0, rim + slope * wall)
    clearances = draw(st.tuples(st.floats(0.0, 15.0), st.floats(0.0, 15.0)))
    kept = tuple(
        Keepout(
            around=draw(st.floats(-4.0, 8.0)),
            width_mm=draw(st.floats(2.0, 25.0)),
            from_mm=(start := draw(st.floats(0.0, wall - 10.0))),
            to_mm=draw(st.floats(start + 5.0, wall)),
        )
        for _ in range(draw(st.integers(0, keepouts)))
    )
    return a_cup(
        rim,
        base,
        wall,
        resin_mm=draw(st.sampled_from((0.0, 0.0, 0.8))),
        rim_clearance_mm=clearances[0],
        base_clearance_mm=clearances[1],
        keepouts=kept,
    )


def _share(draw) -> Down:
    return Down(draw(st.floats(0.0, 1.0)), is_share=True)


@st.composite
def lines(draw, name: str = "line", kinds=("vertical", "ring", "diagonal", "chevron"), **more) -> Line:
    """Any line, most of which can be laid on most cups."""
    common = {
        "name": name,
        "vinyl": "v",
        "width_mm": draw(st.floats(1.0, 8.0)),
        "stripes": draw(st.integers(1, 3)),
        "gap_mm": draw(st.floats(0.5, 4.0)),
    } | more
    kind = draw(st.sampled_from(kinds))
    place = st.floats(-7.0, 7.0)
    if kind == "vertical":
        return Vertical(
            around=(draw(place),),
            narrows=draw(st.booleans()),
            start=draw(
                st.one_of(st.none(), st.floats(0.0, 0.3).map(lambda share: Down(share, is_share=True)))
            ),
            end=draw(st.one_of(st.none(), st.floats(0.6, 1.0).map(lambda share: Down(share, is_share=True)))),
            **common,
        )
    if kind == "ring":
        part = draw(st.one_of(st.none(), st.floats(0.3, 6.2)))
        start = None if part is None else draw(place)
        return Ring(
            downs=(_share(draw),),
            ends=draw(st.sampled_from(("upright", "square"))),
            joint=draw(place),
            overlap_mm=draw(st.floats(0.0, 8.0)),
            start=start,
            end=None if part is None else start + part,
            **common,
        )
    if kind == "diagonal":
        around = draw(place)
        return Diagonal(
            start_around=around,
            start_down=Down(draw(st.floats(0.0, 0.4)), is_share=True),
            end_around=around + draw(st.floats(-3.0, 3.0)),
            end_down=Down(draw(st.floats(0.6, 1.0)), is_share=True),
            path=draw(st.sampled_from(PATHS)),
            ends=draw(st.sampled_from(("level", "upright", "square"))),
            **common,
        )
    return Chevron(
        top=Down(draw(st.floats(0.0, 0.4)), is_share=True),
        bottom=Down(draw(st.floats(0.6, 1.0)), is_share=True),
        points=draw(st.integers(2, 8)),
        start=draw(place),
        joint=draw(place),
        overlap_mm=draw(st.floats(0.0, 3.0)),
        path=draw(st.sampled_from(PATHS)),
        **common,
    )


def random_cup(rng: Random) -> Cup:
    """A cup as wild as a job file may describe."""
    wall, rim = rng.uniform(40, 220), rng.uniform(15, 80)
    slope = rng.choice((0.0, 1e-16, -1e-13, 1e-9, -1e-6, None, None, None, None, None))
    slope = rng.uniform(-0.3, 0.3) if slope is None else slope
    if rng.random() < 0.15:
        slope = rng.uniform(-0.9, 0.9)
    base = max(2.0, rim + slope * wall)
    base = min(base, rim + 0.95 * wall)
    keepouts = []
    for _ in range(rng.choice((0, 0, 1, 2))):
        start = rng.uniform(0, 0.8 * wall)
        keepouts.append(
            Keepout(
                around=rng.choice((math.pi / 2, math.pi, rng.uniform(-4, 8))),
                width_mm=rng.uniform(0.5, 1.2 * min(rim, base)),
                from_mm=start,
                to_mm=rng.uniform(start + 1, wall),
            )
        )
    seams = {}
    if rng.random() < 0.4:
        around = rng.uniform(-3, 3)
        seams["side"] = Seam(name="side", rim=around, base=around + rng.uniform(-0.4, 0.4))
    profile, smooth = (), False
    if rng.random() < 0.45:
        profile, smooth = random_profile(rng)
        rim, base = profile[0].radius_mm, profile[-1].radius_mm
        wall = (SmoothWall if smooth else SectionWall).through(profile).wall_mm
        keepouts = [
            Keepout(around=kept.around, width_mm=kept.width_mm, from_mm=kept.from_mm * 0.2, to_mm=kept.to_mm * 0.2 + 1)
            for kept in keepouts
        ]
    return a_cup(
        rim,
        base,
        wall,
        profile=profile,
        smooth=smooth,
        resin_mm=rng.choice((0.0, 0.8, rng.uniform(0, 4))),
        rim_clearance_mm=rng.choice((None, 0.0, rng.uniform(0, 15))),
        base_clearance_mm=rng.choice((None, 0.0, rng.uniform(0, 15))),
        keepouts=tuple(keepouts),
        seams=seams,
    )


def random_profile(rng: Random) -> tuple[tuple[ProfilePoint, ...], bool]:
    """A profile as wild as a cup's may be, and whether it is smooth: bulges, waists, upright parts, shoulders, ledges."""
    while True:
        smooth, count = rng.random() < 0.45, rng.choice((3, 3, 4, 4, 5, 6, 9))
        radius, height = rng.uniform(18, 60), rng.uniform(60, 200)
        points = [ProfilePoint(radius, height)]
        for left in range(count - 1, 0, -1):
            drop = height / left * rng.uniform(0.6, 1.4) if left > 1 else height
            if not smooth and rng.random() < 0.08:
                drop = 0.0  # a ledge
            steep = rng.choice((0.0, rng.uniform(-0.2, 0.2), rng.uniform(-0.6, 0.6), rng.uniform(-2, 2)))
            radius += steep * drop if drop else rng.choice((-1, 1)) * rng.uniform(1, 10)
            height -= drop
            points.append(ProfilePoint(radius, height))
        if min(point.radius_mm for point in points) < 6 or max(point.radius_mm for point in points) > 120:
            continue
        if height == points[0].height_mm:  # ledges alone are no wall, and a job file that says so is refused
            continue
        try:
            wall = (SmoothWall if smooth else SectionWall).through(points)
        except GeometryError:
            continue
        if wall.least_radius_mm > 5:
            return tuple(points), smooth


def random_line(rng: Random, name: str, cup: Cup, earlier: list[Line]) -> Line:
    """A line as wild as a job file may describe, perhaps under or clear of earlier ones."""

    def around():
        return rng.choice(
            (
                "front",
                "back",
                *(s for s in cup.seams),
                0.0,
                rng.uniform(-4, 8),
                math.radians(rng.randrange(0, 360, 15)),
            )
        )

    def down(low=0.0, high=1.0):
        roll = rng.random()
        if roll < 0.15:
            return Down(rng.choice((low, high)), is_share=True, from_base=False)
        if roll < 0.7:
            return Down(rng.uniform(low, high), is_share=True)
        return Down(rng.uniform(low, high) * cup.wall_mm, from_base=rng.random() < 0.3)

    under = [line for line in earlier if rng.random() < 0.35]
    clear = [line for line in earlier if line not in under and rng.random() < 0.2]
    most_tuck = min((line.full_width_mm / 2 for line in under), default=3.0)
    kind = rng.choice(("vertical", "ring", "diagonal", "diagonal", "chevron"))
    stripes = rng.choice((1, 1, 2, 3, 5))
    common = {
        "name": name,
        "vinyl": "v",
        "width_mm": rng.choice((1.0, 3.0, rng.uniform(0.3, 12), rng.uniform(0.5, 30))),
        "stripes": stripes,
        "gap_mm": rng.choice((0.0, 2.0, rng.uniform(0, 6))),
        "under": tuple(line.name for line in under),
        "tuck_mm": min(rng.choice((0.0, 1.5, rng.uniform(0, 3))), most_tuck * 0.95),
        "clear_of": tuple(line.name for line in clear),
        "by_mm": rng.choice((0.0, 1.0, rng.uniform(0, 5))),
        "resin_mm": rng.choice((None, None, None, cup.resin_mm + rng.uniform(0, 2))),
    }
    repeat = None
    if rng.random() < 0.35:
        count = rng.randint(1, 9)
        repeat = Repeat(count=count, step_rad=rng.choice((None, math.radians(rng.uniform(-50, 50)))))
    if kind == "vertical":
        places = (around(),) if repeat or rng.random() < 0.7 else ("front", "back")
        if rng.random() < 0.15:
            places, repeat = (), Repeat(count=rng.randint(1, 7), between=("front", "back"))
        return Vertical(
            around=places,
            start=rng.choice((None, down(0, 0.5))),
            end=rng.choice((None, down(0.5, 1))),
            narrows=rng.random() < 0.3,
            mirror=rng.choice((None, None, around())),
            repeat=repeat,
            ends=rng.choice(("level", "square")),
            **common,
        )
    if kind == "ring":
        part = rng.random() < 0.4
        start = around() if part else None
        end = around() if part else None
        return Ring(
            downs=tuple(down() for _ in range(rng.choice((1, 1, 2)))),
            start=start,
            end=end,
            joint=around(),
            overlap_mm=rng.choice((0.0, 3.0, rng.uniform(0, 20))),
            repeat=repeat if part else None,
            ends=rng.choice(("upright", "square")),
            **common,
        )
    if kind == "diagonal":
        start = around()
        if rng.random() < 0.6 and not isinstance(start, str):
            end = start + rng.choice(
                (rng.uniform(-3, 3), rng.uniform(-15, 15), math.radians(359.9), 0.0, math.tau)
            )
        else:
            end = around()
        return Diagonal(
            start_around=start,
            start_down=down(),
            end_around=end,
            end_down=down(),
            path=rng.choice(PATHS),
            mirror=rng.choice((None, None, True, around())),
            repeat=repeat,
            ends=rng.choice(("level", "level", "upright", "square")),
            **common,
        )
    return Chevron(
        top=down(0, 0.6),
        bottom=down(0.4, 1),
        points=rng.choice((1, 2, 3, 6, 12, 24)),
        start=around(),
        joint=around(),
        overlap_mm=rng.choice((0.0, 0.0, rng.uniform(0, 5))),
        path=rng.choice(PATHS),
        repeat=repeat if rng.random() < 0.3 else None,
        **common,
    )


def random_case(seed: int, most_lines: int = 4) -> tuple[Cup, Pattern]:
    """A cup and a pattern of one to four lines, the same for the same seed."""
    rng = Random(seed)
    cup = random_cup(rng)
    found: list[Line] = []
    for number in range(min(most_lines, rng.choice((1, 1, 2, 2, 3, 4)))):
        found.append(random_line(rng, f"line-{number}", cup, found))
    return cup, Pattern(name="pattern", lines=tuple(found))


WALL = Frustum.from_radii(43.0, 31.0, 150.0)


@st.composite
def shapes(draw) -> Shape:
    around, down = draw(st.floats(-1, 1)), draw(st.floats(40, 100))
    kind = draw(st.sampled_from(("box", "disc", "straight", "slant", "drop")))
    if kind == "box":
        size, tall = draw(st.floats(0.05, 1.5)), draw(st.floats(2, 50))
        return box(WALL, around, around + size, down - tall / 2, down + tall / 2)
    if kind == "disc":
        return disc(WALL, around, down, draw(st.floats(1, 25)))
    half = draw(st.floats(0.5, 6))
    heading, length = draw(st.floats(-3, 3)), draw(st.floats(10, 60))
    if kind == "straight":
        return ribbon(Straight(WALL, around, down, heading), -length / 2, length / 2, -half, half)
    if kind == "slant":
        return ribbon(SameSlant(WALL, around, down, heading), -length / 2, length / 2, -half, half)
    turn = draw(st.floats(0.3, 2.0))
    return ribbon(EvenDrop(WALL, around, down - 20, turn, draw(st.floats(5, 40))), 0.0, 1.0, -half, half)
