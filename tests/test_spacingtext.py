"""The tables of distances say what the figures and the JSON say."""

from __future__ import annotations

import json
import math

import pytest
from test_neighbours import PLAIN, TAPERED, decorated, diagonal, ring, vertical

from stripegen.spacing import spacing_lines, spacing_of, spacing_rows
from stripegen.spacingtext import crossing_table, evenness_table, figure, pair_table
from stripegen.spec import Repeat, Vertical

LINES = (
    vertical("edge", 0.1, 6.0),
    vertical("slim", 1.2, 2.0),
    ring("hoop", 40.0, 90.0),
    diagonal("sash", (2.0, 30.0), (4.5, 120.0), clear_of=("edge",)),
)


@pytest.fixture(scope="module")
def spacing():
    return spacing_of(decorated(TAPERED, *LINES))


def test_json_and_table_agree(spacing):
    rows = json.loads(json.dumps(spacing_rows(spacing)))
    lines = spacing_lines(spacing)
    assert len(rows["pairs"]) == len(spacing.pairs) > 2
    table = lines[next(n for n, line in enumerate(lines) if line.startswith("Along the wall")) :]
    for row, pair in zip(rows["pairs"], spacing.pairs, strict=True):
        assert row["least"] == pytest.approx(pair.least_mm, abs=1e-6)
        assert row["least_at"]["around"] == pytest.approx(math.degrees(pair.least_at[0]), abs=1e-6)
        assert row["side"] == ("round" if pair.is_round else "down")
        (line,) = [line for line in table if f"  {row['first']} to {row['second']} " in line]
        place = [f"{row['least_at']['around']:.1f}", f"{row['least_at']['down']:.1f}"]
        assert line.split()[-4:] == [*place, figure(row["least"]), figure(row["greatest"])]
    for row, even in zip(rows["evenness"], spacing.evenness, strict=True):
        assert (row["line"], row["level"], row["gaps"]) == (even.line, even.level, even.gaps)
        (line,) = [line for line in lines if line.startswith(f"  {even.line or 'all lines'}, {even.level} ")]
        assert line.split()[-4:] == [str(row["gaps"]), figure(row["mean"]), figure(row["deviation"]), f"{row['share']:.1%}"]
    for row, clear in zip(rows["clearances"], spacing.clearances, strict=True):
        assert row["rim"] == pytest.approx(clear.rim_mm, abs=1e-6) and row["keepouts"] == []
        assert any(line.split()[-4:-3] == [figure(row["rim"])] and clear.line in line for line in lines)
    assert len(rows["crossings"]) == len(spacing.crossings)
    for row, cross in zip(rows["crossings"], spacing.crossings, strict=True):
        assert row["angle"] == pytest.approx(math.degrees(cross.angle_rad), abs=1e-6)
        assert any(line.split()[-1:] == [f"{row['angle']:.2f}"] for line in lines)


def test_rows_of_a_table_end_where_they_should(spacing):
    lines = spacing_lines(spacing)
    assert all(line == line.rstrip() and line.isascii() for line in lines)


def test_alike_pairs_and_crossings_are_told_once():
    pins = Vertical(name="pin", vinyl="v", width_mm=3.0, repeat=Repeat(count=12))
    lattice = diagonal("x", (0.0, 20.0), (0.9, 95.0), repeat=Repeat(count=6), mirror=True)
    found = spacing_of(decorated(TAPERED, pins), [])
    _, _, row = pair_table(found.pairs).lines()
    assert "pin 1 to pin 2 and on to pin 1, 12 gaps" in row
    _, _, *rows = crossing_table(spacing_of(decorated(PLAIN, lattice), []).crossings).lines()
    assert [row.split()[:4] for row in rows] == [["x,", "with", "itself", "6"]] * len(rows)


def test_there_is_no_table_of_nothing():
    assert pair_table([]) is evenness_table([]) is crossing_table([]) is None


def test_a_pair_that_touches_says_so():
    dash = diagonal("dash", (0.0, 51.0), (1.0, 90.0))
    *_, row = pair_table([pair for pair in spacing_of(decorated(PLAIN, ring("hoop", 50.0), dash), []).pairs if pair.touches]).lines()
    assert row.split()[-2:] == ["0.00", "touch"]
