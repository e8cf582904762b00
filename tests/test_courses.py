"""Where the lines run: places, repeats, mirror images and zigzags, as points on the cup."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import CUPS, PATHS, a_cup

from stripegen.courses import courses_of
from stripegen.errors import GeometryError
from stripegen.site import Site
from stripegen.spec import Along, Chevron, Diagonal, Down, Pattern, Repeat, Ring, Seam, Vertical

laws = settings(deadline=None, max_examples=50)
COMMON = {"name": "line", "vinyl": "v", "width_mm": 2.0}
CUP = a_cup(43, 31, 152, resin_mm=0.8, seams={"side": Seam(name="side", rim=2.0, base=2.2)})
SITE = Site.of(CUP, Pattern(name="p", lines=()))


def share(value: float) -> Down:
    return Down(value, is_share=True)


def ends(course) -> tuple[float, float, float, float]:
    first, last = course.legs[0], course.legs[-1]
    return *first.place(first.t0), *last.place(last.t1)


def starts_deg(courses) -> list[float]:
    return [round(math.degrees(ends(course)[0]), 6) for course in courses]


def vertical(**more):
    return courses_of(Vertical(**COMMON, **more), SITE)


def test_verticals_stand_where_they_are_told_between_the_clearances():
    courses = vertical(around=("front", "back", 1.0, Along(27.0, 30.0)))
    radius = SITE.wall.rim_radius_mm + SITE.wall.slope * 30.0
    assert [ends(course)[0] for course in courses] == pytest.approx([0.0, math.pi, 1.0, 27.0 / radius])
    for course in courses:
        a0, v0, a1, v1 = ends(course)
        assert (a1 - a0, v0, v1) == pytest.approx((0.0, 12.0, 146.0))
    (part,) = vertical(around=(1.0,), start=Down(30.0), end=Down(20.0, from_base=True))
    assert ends(part) == pytest.approx((1.0, 30.0, 1.0, 132.0))


def test_a_vertical_at_a_leaning_seam_follows_it():
    (course,) = vertical(around=("side",))
    a0, v0, a1, v1 = ends(course)
    assert (v0, v1) == pytest.approx((12.0, 146.0))
    assert 2.0 < a0 < a1 < 2.2
    assert a0 == pytest.approx(SITE.around_rad("side", 12.0))
    assert a1 == pytest.approx(SITE.around_rad("side", 146.0))
    mirrored = vertical(around=("side",), mirror=1.0)
    assert [ends(c)[0] + ends(course)[0] for c in mirrored[1:]] == pytest.approx([2.0])
    assert [ends(c)[2] + ends(course)[2] for c in mirrored[1:]] == pytest.approx([2.0])
    with pytest.raises(GeometryError, match="narrows = true needs upright places"):
        vertical(around=("side",), narrows=True)


def test_repeats_are_even_or_by_a_step_or_between_two_places():
    assert starts_deg(vertical(repeat=Repeat(count=4))) == [0, 90, 180, 270]
    assert starts_deg(vertical(around=(math.radians(10),), repeat=Repeat(count=3))) == [10, 130, 250]
    step = Repeat(count=3, step_rad=math.radians(-20))
    assert starts_deg(vertical(around=("back",), repeat=step)) == [180, 160, 140]
    assert starts_deg(vertical(repeat=Repeat(count=3, between=("front", "back")))) == [45, 90, 135]
    assert starts_deg(vertical(repeat=Repeat(count=2, between=("back", "front")))) == [240, 300]
    assert starts_deg(vertical(repeat=Repeat(count=2, between=("back", 6.0)))) == pytest.approx(
        [180 + (math.degrees(6.0) - 180) * part / 3 for part in (1, 2)], abs=1e-6
    )


@pytest.mark.parametrize(("first", "last"), [("front", "side"), ("side", "back"), ("back", "side")])
def test_between_leaning_seams_lines_lie_at_each_place_down_by_their_share(first, last):
    courses = vertical(repeat=Repeat(count=3, between=(first, last)))
    for down in np.linspace(12.0, 146.0, 9):
        left, right = (SITE.around_rad(name, down) for name in (first, last))
        turn = (right - left) % math.tau
        for number, course in enumerate(courses, 1):
            (leg,) = course.legs
            around = float(leg.curve.at(down)[0])  # its t is the place down
            assert math.remainder(around - left - turn * number / 4, math.tau) == pytest.approx(0, abs=1e-9)
        assert (leg.t0, leg.t1) == pytest.approx((12.0, 146.0), abs=1e-9)


def test_between_seams_that_cross_there_is_no_room():
    cup = a_cup(43, 31, 152, seams={"side": Seam(name="side", rim=0.1, base=-0.3)})
    line = Vertical(**COMMON, repeat=Repeat(count=2, between=("front", "side")))
    with pytest.raises(GeometryError, match="cross on their way down"):
        courses_of(line, Site.of(cup, Pattern(name="p", lines=())))


@laws
@given(count=st.integers(1, 12), mirror=st.integers(0, 23), first=st.integers(0, 23))
def test_no_vertical_is_laid_twice(count, mirror, first):
    courses = vertical(
        around=(math.radians(first * 15),), repeat=Repeat(count=count), mirror=math.radians(mirror * 15)
    )
    places = [math.radians(first * 15) + math.tau * n / count for n in range(count)]
    places += [2 * math.radians(mirror * 15) - place for place in places]
    true = {round(math.degrees(place) % 360, 6) % 360 for place in places}
    found = [round(math.degrees(ends(course)[0]) % 360, 6) % 360 for course in courses]
    assert sorted(found) == sorted(true)


def test_verticals_run_down():
    with pytest.raises(GeometryError, match="from 60.00 to 50.00 mm down: `to` must lie below `from`"):
        vertical(around=(0.0,), start=Down(60), end=Down(50))


def ring(**more):
    return courses_of(Ring(**COMMON, **({"downs": (Down(40.0),), "ends": "upright"} | more)), SITE)


def test_rings_go_once_round_from_their_joint():
    for course in ring(downs=(Down(40.0), share(1.0), Down(20.0, from_base=True)), joint=1.3):
        a0, v0, a1, v1 = ends(course)
        assert (a0, a1 - a0, v1 - v0) == pytest.approx((1.3, math.tau, 0.0))
        assert course.closed and course.overlap_mm == 3.0
    assert [ends(c)[1] for c in ring(downs=(Down(40.0), share(1.0)))] == [40.0, 146.0]
    assert ends(ring()[0])[0] == math.pi
    side = ring(joint="side")[0]
    assert ends(side)[0] == pytest.approx(SITE.around_rad("side", 40.0))


@laws
@given(start=st.floats(-9, 9), end=st.floats(-9, 9))
def test_a_part_of_a_ring_goes_to_the_right(start, end):
    turn = (end - start) % math.tau
    if min(turn, math.tau - turn) < 1e-6:
        return
    (course,) = ring(start=start, end=end)
    a0, _, a1, _ = ends(course)
    assert a0 == start and a1 - a0 == pytest.approx(turn)
    assert not course.closed


def test_parts_of_rings_repeat_and_whole_ones_do_not():
    assert starts_deg(ring(start=0.0, end=0.5, repeat=Repeat(count=3))) == [0, 120, 240]
    with pytest.raises(GeometryError, match="list its downs"):
        ring(repeat=Repeat(count=3))
    with pytest.raises(GeometryError, match="one place: leave both out"):
        ring(start=1.0, end=1.0 + math.tau)


def diagonal(start, end, **more):
    return courses_of(
        Diagonal(
            **COMMON,
            start_around=start[0],
            start_down=Down(start[1]),
            end_around=end[0],
            end_down=Down(end[1]),
            **more,
        ),
        SITE,
    )


@pytest.mark.parametrize("path", PATHS)
def test_diagonals_join_their_ends_the_way_they_are_told(path):
    (course,) = diagonal((0.3, 30.0), (-2.0, 90.0), path=path)
    assert ends(course) == pytest.approx((0.3, 30.0, -2.0, 90.0))
    (course,) = diagonal((0.3, 90.0), (0.3 + math.radians(800), 30.0), path=path)
    assert ends(course) == pytest.approx((0.3, 90.0, 0.3 + math.radians(800), 30.0))
    # with a seam's name, the way to the right
    (course,) = diagonal(("back", 30.0), ("front", 90.0), path=path)
    assert ends(course) == pytest.approx((math.pi, 30.0, math.tau, 90.0))
    (course,) = diagonal((4.0, 30.0), ("back", 90.0), path=path)
    assert ends(course) == pytest.approx((4.0, 30.0, math.pi + math.tau, 90.0))


def in_space(course, count=40) -> np.ndarray:
    points = []
    for leg in course.legs:
        around, down = leg.curve.at(np.linspace(leg.t0, leg.t1, count))
        radius = 40 - 0.1 * down
        points.append(np.stack([radius * np.cos(around), radius * np.sin(around), down], axis=1))
    return np.concatenate(points)


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("mirror", [True, 0.7, "front"])
def test_a_mirror_image_is_one_in_space(path, mirror):
    start, end = (0.4, 30.0), (2.2, 110.0)
    first, image = diagonal(start, end, path=path, mirror=mirror)
    plane = {True: (start[0] + end[0]) / 2, "front": 0.0}.get(mirror, mirror)
    normal = np.array([-math.sin(plane), math.cos(plane), 0.0])
    points = in_space(first)
    reflected = points - 2 * (points @ normal)[:, None] * normal
    assert np.abs(in_space(image) - reflected).max() < 1e-9


def test_what_falls_on_its_own_image_is_not_doubled():
    assert len(diagonal((0.4, 30.0), (0.4, 110.0), mirror=True)) == 1
    assert len(diagonal((0.4, 30.0), (2.2, 30.0), mirror=True)) == 1
    assert len(diagonal((0.4, 30.0), (2.2, 30.0), mirror=1.3)) == 1
    assert len(diagonal((0.4, 30.0), (2.2, 30.0), mirror=1.4)) == 2
    assert len(diagonal((0.4, 30.0), (2.2, 110.0), mirror=True, repeat=Repeat(count=5))) == 10
    half_turn = Repeat(count=4, step_rad=math.pi)
    assert len(diagonal((0.4, 30.0), (2.2, 110.0), repeat=half_turn)) == 2


def test_diagonals_that_can_not_be_are_refused():
    with pytest.raises(GeometryError, match="starts and ends at one place"):
        diagonal((0.4, 30.0), (0.4, 30.0))
    for path in PATHS[1:]:
        with pytest.raises(GeometryError, match="two different places down: between equal ones make it kind = .ring."):
            diagonal((0.4, 30.0), (2.4, 30.0), path=path)
    with pytest.raises(GeometryError, match="runs off the wall"):
        diagonal((0.0, 150.0), (3.0, 150.0))


def chevron(**more):
    return courses_of(
        Chevron(**COMMON, **({"top": Down(40.0), "bottom": Down(70.0), "points": 5} | more)), SITE
    )


@pytest.mark.parametrize("path", PATHS)
def test_a_chevron_goes_from_upper_to_lower_points_once_round(path):
    for joint in (0.0, 1.0, math.pi, -2.0):
        (course,) = chevron(path=path, start=0.2, joint=joint)
        assert course.closed and len(course.legs) == 10
        places = [leg.place(leg.t0) for leg in course.legs] + [course.legs[-1].place(course.legs[-1].t1)]
        first = places[0][0]
        assert [a for a, _ in places] == pytest.approx([first + math.pi * n / 5 for n in range(11)])
        assert [v for _, v in places] == pytest.approx([40, 70] * 5 + [40])
        # it begins at one of its upper points, and none is nearer to the joint
        assert math.remainder((first - 0.2) * 5, math.tau) == pytest.approx(0, abs=1e-9)
        assert abs(math.remainder(first - joint, math.tau)) <= math.pi / 5 + 1e-9
        for leg in course.legs:
            assert (leg.start_cut, leg.end_cut) == ("upright", "upright")


def test_chevrons_repeat_without_doubles():
    third = Repeat(count=3, step_rad=math.tau / 15)
    assert len(chevron(repeat=third)) == 3
    whole = Repeat(count=3, step_rad=math.tau / 5)
    assert len(chevron(repeat=whole)) == 1
    with pytest.raises(GeometryError, match="its top lies 70.00 mm down, its bottom 40.00 mm: the top must lie above"):
        chevron(top=Down(70.0), bottom=Down(40.0))


@pytest.mark.parametrize("name", CUPS)
def test_a_line_too_wide_for_its_cup_is_refused(name):
    cup = CUPS[name]
    site = Site.of(cup, Pattern(name="p", lines=()))
    girth = math.tau * min(site.wall.rim_radius_mm, site.wall.base_radius_mm)
    wide = {"name": "line", "vinyl": "v", "width_mm": girth / 3, "stripes": 3, "gap_mm": 0.1}
    with pytest.raises(GeometryError, match="the cup at its narrowest"):
        courses_of(Vertical(around=(0.0,), **wide), site)
    tall = {"name": "line", "vinyl": "v", "width_mm": cup.wall_mm + 0.1}
    with pytest.raises(GeometryError, match="wide in all, the wall"):
        courses_of(Ring(downs=(Down(40.0),), **tall), site)


def test_a_thousand_copies_are_told_apart_at_once():
    assert len(vertical(repeat=Repeat(count=1000), mirror=0.0)) == 1000
    assert len(vertical(repeat=Repeat(count=1000), mirror=math.pi / 1000)) == 1000
    assert len(vertical(repeat=Repeat(count=1000), mirror=math.pi / 2000)) == 2000
