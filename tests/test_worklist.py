"""The work list's steps: every strip once, in an order in which it can be laid, at places that are right."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from profiled import turned
from worklists import made, sheet_names

from stripegen.jobfile import parse_job
from stripegen.presets import find_preset
from stripegen.production import Production, produce
from stripegen.worklist import WorkList, work_list
from stripegen.workparts import parts_of
from stripegen.worksteps import COAT, LAY, MOST_APART, MOST_IN_ROW, PREPARE, SEAL, StripAt

JOBS = ("hard", "presets")


def resin_of(production: Production, order, line) -> float:
    return production.job.cups[order.cup].resin_mm if line.resin_mm is None else line.resin_mm


@pytest.mark.parametrize("job", JOBS)
def test_every_strip_of_one_cup_of_every_order_is_told_once(job):
    production, work = made(job)
    told = Counter(strip.id for order in work.orders for strip in order.strips)
    assert told == Counter(piece.id for piece in production.pieces if piece.cup_no == 1)
    assert [order.id for order in work.orders] == [order.id for order in production.job.orders]


@pytest.mark.parametrize("job", JOBS)
def test_on_each_coat_what_goes_under_is_laid_before_what_covers_it(job):
    production, work = made(job)
    covered = 0
    for order in work.orders:
        lines = {line.name: line for line in production.job.patterns[order.pattern].lines}
        at = {line.name: number for number, step in enumerate(order.steps) for line in step.lines}
        for line in lines.values():
            for cover in line.under:
                assert at[line.name] < at[cover]
                covered += 1
        assert not any(step.over for step in order.steps)
        for step in order.steps:
            own = {line.name for line in step.lines}
            assert set(step.under) == {cover for line in step.lines for cover in line.under} - own
    assert covered


@pytest.mark.parametrize("job", JOBS)
def test_coats_come_in_order_with_curing_between_them_and_a_seal_at_last(job):
    production, work = made(job)
    for order in work.orders:
        kinds = [step.kind for step in order.steps]
        assert kinds[0] == PREPARE and kinds[-1] == SEAL and kinds.count(PREPARE) == kinds.count(SEAL) == 1
        on_wall = order.steps[0].resin_mm
        for step in order.steps[1:-1]:
            if step.kind == COAT:
                assert step.coat_mm > 0 and step.resin_mm == pytest.approx(on_wall + step.coat_mm)
                on_wall = step.resin_mm
            for line in step.lines:
                assert resin_of(production, order, line) == on_wall
        levels = {resin_of(production, order, line) for step in order.steps for line in step.lines}
        assert kinds.count(COAT) == len(levels) - 1
        for kind in set(kinds):
            assert [step.is_first for step in order.steps if step.kind == kind] == [True] + [False] * (kinds.count(kind) - 1)


def test_the_hard_job_has_further_coats_and_parts_and_units():
    _, work = made("hard")
    layered, grouped, whole = work.orders
    assert [step.kind for step in layered.steps].count(COAT) == 2
    assert layered.steps[-1].coat_mm == 1.0
    assert any(strip.part for strip in layered.strips)
    assert {row.units for step in grouped.steps for row in step.rows} == {0, 6}
    assert any(strip.joined for strip in whole.strips)


def chord_sum(radius: float, around: float) -> float:
    """How long a girth is from the zero mark to a place, by fine chords in space."""
    turns = np.linspace(0.0, around, 20001)
    points = np.stack([radius * np.cos(turns), radius * np.sin(turns)], axis=-1)
    return float(np.sum(np.linalg.norm(np.diff(points, axis=0), axis=1)))


@pytest.mark.parametrize("job", JOBS)
def test_a_place_is_the_pieces_own_and_is_measured_on_the_wall_that_it_lies_on(job):
    production, work = made(job)
    pieces = {piece.id: piece for piece in production.pieces}
    spaces = {}
    for order in work.orders:
        for step in order.steps:
            cup = replace(production.job.cups[order.cup], resin_mm=step.resin_mm)
            for strip in (strip for row in step.rows for strip in row.strips):
                key = order.cup, step.resin_mm
                space = spaces.setdefault(key, turned(cup))
                ends = (strip.start, strip.end)
                flat = pieces[strip.id].flat
                for spot, (around, down) in zip(ends, (flat.start, flat.end), strict=True):
                    assert spot.down_mm == down and 0 <= spot.around_rad < math.tau
                    assert abs(math.remainder(spot.around_rad - around, math.tau)) < 1e-8
                    radius = float(space.place(down)[0])
                    assert spot.along_mm == pytest.approx(chord_sum(radius, spot.around_rad), abs=2e-3)


@pytest.mark.parametrize("job", JOBS)
def test_tapes_are_told_as_they_read_on_each_coat(job):
    production, work = made(job)
    for order in work.orders:
        for step in order.steps:
            assert bool(step.girths) == (step.kind in (PREPARE, COAT))
            space = turned(replace(production.job.cups[order.cup], resin_mm=step.resin_mm))
            for down, girth in step.girths:
                assert girth == pytest.approx(chord_sum(float(space.place(down)[0]), math.tau), abs=2e-3)


@pytest.mark.parametrize("job", JOBS)
def test_rows_hold_what_is_cut_alike_or_carried_over_together(job):
    production, work = made(job)
    pieces = {piece.id: piece for piece in production.pieces}
    for order in work.orders:
        rows = [row for step in order.steps for row in step.rows]
        for step in order.steps:
            for mark, count in Counter(strip.mark for row in step.rows for strip in row.strips).items():
                own = [row for row in step.rows if row.strips[0].mark == mark]
                assert count <= MOST_APART or len(own) < count or any(strip.part for row in own for strip in row.strips)
        for row in rows:
            assert 1 <= len(row.strips) <= MOST_IN_ROW
            own = [pieces[strip.id] for strip in row.strips]
            assert [order.look.shapes[number] for number in row.lit] == [piece.flat.strip.shape for piece in own]
            if row.units:
                assert len({piece.unit.id for piece in own}) == row.units
            else:
                assert len({(strip.mark, piece.line) for strip, piece in zip(row.strips, own, strict=True)}) == 1


def test_a_lattice_shares_rows():
    _, work = made("some presets")
    (order,) = [order for order in work.orders if order.id == "tall-tapered--lattice"]
    counts = [len(row.strips) for step in order.steps for row in step.rows]
    assert sum(counts) == 14 and sorted(counts) == [1, 1, 6, 6]


@pytest.mark.parametrize("job", JOBS)
def test_sheets_and_materials_count_every_piece_once(job):
    production, work = made(job)
    places = sheet_names(production)
    told = Counter()
    for order in work.orders:
        for row in (row for step in order.steps for row in step.rows):
            assert sum(count for _, count in row.sheets) == len(row.strips) * order.quantity
            told.update(dict(row.sheets))
    assert told == Counter(places.values())
    for material in work.materials:
        own = production.of_vinyl(material.vinyl)
        assert material.strips == len(own) and set(material.sheets) == {places[piece.id] for piece in own}
        assert material.area_mm2 == pytest.approx(sum(piece.flat.area_mm2 for piece in own))
        assert material.length_mm == pytest.approx(sum(piece.flat.cut_mm for piece in own))
    assert sum(material.strips for material in work.materials) == len(production.pieces)
    assert dict(work.cups) == Counter(
        {cup: sum(o.quantity for o in production.job.orders if o.cup == cup) for cup in {o.cup for o in production.job.orders}}
    )


def test_without_places_no_sheet_is_told():
    production, _ = made("hard")
    work = work_list(production)
    assert not work.has_sheets
    assert not any(row.sheets for order in work.orders for step in order.steps for row in step.rows)
    assert not any(material.sheets for material in work.materials)


def strip_named(work: WorkList, order: str, name: str) -> StripAt:
    return next(strip for each in work.orders if each.id == order for strip in each.strips if strip.name == name)


def lap_along(first: StripAt, second: StripAt) -> float:
    """How far a strip's end is past another's beginning, along the girth on which both lie."""
    girth = first.end.along_mm / first.end.around_rad * math.tau
    return (first.end.along_mm - second.start.along_mm) % girth


def test_parts_of_a_ring_lap_over_each_other_and_close_it():
    _, work = made("hard")
    first, second = strip_named(work, "L-1", "belt.1"), strip_named(work, "L-1", "belt.2")
    assert (first.part, second.part) == ((1, 2), (2, 2))
    assert first.overlap_mm is None and second.overlap_mm == pytest.approx(lap_along(second, first), abs=1e-6)
    assert second.lap_mm == pytest.approx(lap_along(first, second), abs=1e-6) == pytest.approx(3.0, abs=1e-6)


SPLIT = """
[vinyl.little]
colour = "#203040"
width = 60
length = 60
[cup.cone]
rim = { diameter = 80 }
base = { diameter = 60 }
height = 140
[pattern.p]
[[pattern.p.line]]
name = "slash"
kind = "diagonal"
start = { around = 10, down = "10%" }
end = { around = 100, down = "90%" }
repeat = 2
path = "PATH"
width = 3
split = true
vinyl = "little"
[[order]]
id = "S"
cup = "cone"
pattern = "p"
"""


@pytest.mark.parametrize("path", ["straight", "same-slant", "even-drop"])
def test_parts_of_copies_are_told_from_each_other(path):
    production = produce(parse_job(SPLIT.replace("PATH", path), "split.toml", find_preset))
    found = parts_of(production.pieces)
    count = len(production.pieces) // 2
    assert count >= 2
    assert [found[piece.id][0] for piece in production.pieces] == [(n, count) for n in range(1, count + 1)] * 2
    for piece in production.pieces:
        (number, _), lap = found[piece.id]
        assert lap == pytest.approx(0.0 if number == 1 else 3.0, abs=1e-6)


@pytest.mark.parametrize("pattern", ["lattice", "ringed-seams", "chevrons", "spiral"])
def test_what_is_not_split_has_no_parts(pattern):
    production, _ = made("some presets")
    assert not parts_of([piece for piece in production.pieces if piece.order.endswith(f"--{pattern}") and piece.cup_no == 1])


def test_a_ring_is_told_by_its_joint():
    _, work = made("some presets")
    ring = strip_named(work, "tall-tapered--lattice", "edge.1")
    assert ring.overlap_mm == 3.0 and math.degrees(ring.start.around_rad) == pytest.approx(180.0)
    assert strip_named(work, "tall-tapered--ringed-seams", "rings.1").overlap_mm is None
    assert strip_named(work, "tall-tapered--spiral", "broad.1").overlap_mm is None


CIRCLE = """
[vinyl.a]
colour = "#203040"
width = 300
[vinyl.b]
colour = "#a03040"
width = 300
[cup.cone]
rim = { diameter = 80 }
base = { diameter = 60 }
height = 140
[pattern.p]
together = true
[[pattern.p.line]]
name = "one"
kind = "vertical"
around = 0
width = 6
vinyl = "a"
[[pattern.p.line]]
name = "two"
kind = "diagonal"
start = { around = 0, down = "30%" }
end = { around = 60, down = "50%" }
width = 5
under = ["one"]
vinyl = "b"
[[pattern.p.line]]
name = "three"
kind = "diagonal"
start = { around = 40, down = "20%" }
end = { around = 40.5, down = "80%" }
width = 4
under = ["two"]
vinyl = "a"
[[order]]
id = "S"
cup = "cone"
pattern = "p"
"""


def test_vinyls_that_cover_each_other_are_told_as_such():
    """All of a vinyl is carried over in one go here, so that no order of the two has every cover last."""
    work = work_list(produce(parse_job(CIRCLE, "circle.toml", find_preset)))
    first, second = [step for step in work.orders[0].steps if step.kind == LAY]
    assert (first.under, first.over) == (("two",), ())
    assert (second.under, second.over) == ((), ("one",))


COATS = """
[vinyl.a]
colour = "#203040"
width = 300
[cup.cone]
rim = { diameter = 80 }
base = { diameter = 60 }
height = 140
resin = 0.5
[pattern.p]
[[pattern.p.line]]
name = "late"
kind = "diagonal"
start = { around = 0, down = "30%" }
end = { around = 60, down = "50%" }
width = 5
under = ["early"]
resin = 1.5
vinyl = "a"
[[pattern.p.line]]
name = "early"
kind = "vertical"
around = 0
width = 6
vinyl = "a"
[[order]]
id = "S"
cup = "cone"
pattern = "p"
"""


MANY = """
[vinyl.a]
colour = "#203040"
width = 300
[cup.cone]
rim = { diameter = 80 }
base = { diameter = 60 }
height = 140
[pattern.p]
[[pattern.p.line]]
name = "one"
kind = "vertical"
repeat = 2
stripes = 15
gap = 1
width = 2
together = true
vinyl = "a"
[[order]]
id = "S"
cup = "cone"
pattern = "p"
"""


def test_a_unit_of_many_strips_is_told_in_several_rows():
    _, step, _ = work_list(produce(parse_job(MANY, "many.toml", find_preset))).orders[0].steps
    assert [(len(row.strips), row.units, row.goes_on) for row in step.rows] == [(12, 1, False), (3, 1, True)] * 2


def test_coats_come_before_what_covers_what():
    steps = work_list(produce(parse_job(COATS, "coats.toml", find_preset))).orders[0].steps
    assert [(step.kind, [line.name for line in step.lines]) for step in steps[1:-1]] == [
        (LAY, ["early"]), (COAT, []), (LAY, ["late"]),
    ]  # fmt: skip
    assert (steps[3].under, steps[3].over) == ((), ("early",))


def test_orders_of_one_look_share_it():
    _, work = made("some presets")
    assert len({id(order.look) for order in work.orders}) == len(work.orders)
    again = "[[order]]" + CIRCLE.partition("[[order]]")[2].replace('"S"', '"T"')
    first, second = work_list(produce(parse_job(CIRCLE + again, "circle.toml", find_preset))).orders
    assert first.look is second.look
