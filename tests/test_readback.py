"""A manifest read back: the middle of a strip and its way there, against those that its own geometry tells."""

from __future__ import annotations

import json
import math
from functools import cache

import pytest
import shapely
from conftest import JOB

from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.readback import read_back
from stripegen.reading import lay_in_reading_order
from stripegen.results import sheets_result
from stripegen.sheets import lay_out

RING = '[[pattern.regatta.line]]\nname = "band"\nkind = "ring"\ndown = 40\nwidth = 4\nsplit = true\nvinyl = "ink"\n\n[[order]]'


@pytest.fixture(scope="module", params=["none", "strip", "cup"])
def both(request):
    text = JOB.replace("[[order]]", RING, 1).replace("width  = 200\n", f'width  = 305\ngrain = "{request.param}"\n')
    production = produce(parse_job(text, "week.toml", lambda kind, name: None))
    result = sheets_result("strips", production, lay_out(production, "strips", lay_in_reading_order, prove), None)
    return production, read_back(result.files["strips.json"], "strips.json")


def test_pieces_are_those_that_were_written(both):
    production, earlier = both
    assert [piece.id for piece in earlier.pieces] == [piece.id for piece in production.pieces]
    for made, read in zip(production.pieces, earlier.pieces, strict=True):
        assert (made.order, made.cup_no, made.line, made.vinyl) == (read.order, read.cup_no, read.line, read.vinyl)
        assert made.flat.cut_points == read.flat.cut_points
        for name in ("width_mm", "true_mm", "cut_mm", "strain", "start", "end"):
            assert getattr(read.flat, name) == pytest.approx(getattr(made.flat, name), abs=1e-6)


def test_vinyls_and_cutter_are_those_of_the_job(both):
    production, earlier = both
    assert earlier.cutter == production.job.cutter and earlier.job == "week.toml" and not earlier.plain
    for name, vinyl in earlier.vinyls.items():
        own = production.job.vinyls[name]
        for key in ("width_mm", "length_mm", "margin_mm", "piece_gap_mm", "grain", "flip", "cut_from_back", "weed"):
            assert getattr(vinyl, key) == getattr(own, key)


def test_a_name_is_written_along_the_middle(both):
    for made, read in zip(*(each.pieces for each in both), strict=True):
        shape = shapely.Polygon(*read.flat.cut_points)
        assert math.dist(made.flat.middle, read.flat.middle) < 3 * made.flat.width_mm
        assert shape.buffer(-0.35 * made.flat.width_mm).contains(shapely.Point(read.flat.middle))
        off = math.remainder(made.flat.lean_rad - read.flat.lean_rad, math.pi)
        assert abs(off) < (1e-7 if read.flat.turn_rad is not None else 0.1), made.id


@cache
def written() -> bytes:
    made = produce(parse_job(JOB, "week.toml", lambda kind, name: None))
    result = sheets_result("strips", made, lay_out(made, "strips", lay_in_reading_order, prove), None)
    return result.files["strips.json"]


@pytest.mark.parametrize(
    ("section", "key", "value"),
    [
        ("piece", "order", "=1+1"),
        ("piece", "line", "a\nb"),
        ("piece", "id", "../../x.1.edge.1"),
        ("piece", "vinyl", "../x"),
        ("film", "margin", math.nan),
        ("film", "piece_gap", 1e300),
        ("cutter", "band", None),
        ("cutter", "cut_past", None),
        ("sheet", "vinyl", "a" * 5000),
    ],
)
def test_what_no_manifest_of_ours_holds_is_refused_in_one_line(section, key, value):
    """Found by changing each value of a manifest: tracebacks, and texts that would have stood in tables."""
    manifest = json.loads(written())
    sheet = manifest["sheets"][0]
    {"piece": manifest["pieces"][0], "sheet": sheet, "film": sheet["film"], "cutter": sheet["cutter"]}[section][key] = value
    with pytest.raises(JobError) as caught:
        read_back(json.dumps(manifest).encode(), "out/strips.json")
    assert str(caught.value).isprintable() and len(str(caught.value)) < 500
