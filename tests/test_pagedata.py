import json
import math
import re

import numpy as np
import pytest
import shapely
from shapely.affinity import affine_transform

from stripegen.jobfile import parse_job
from stripegen.page import page_html
from stripegen.presets import find_preset
from stripegen.previewing import preview_job
from stripegen.production import produce

TWO_HUNDRED = """
[cup.big]
rim = { diameter = 95 }
base = { diameter = 70 }
wall = 180
[[order]]
id = "O-1"
cup = "big"
pattern = "many"
vinyl = "navy-blue"
[pattern.many]
[[pattern.many.line]]
name = "whirl"
kind = "diagonal"
start = { around = 0, down = "0%" }
end = { around = 200, down = "100%" }
path = "even-drop"
width = 1.1
repeat = 100
vinyl = "a"
[[pattern.many.line]]
name = "back"
kind = "diagonal"
start = { around = 0, down = "100%" }
end = { around = 160, down = "0%" }
width = 1.2
repeat = 100
vinyl = "a"
"""


def drawn(text: str):
    return preview_job(produce(parse_job(text, "week.toml", find_preset)), None)


def test_a_page_of_a_cup_with_two_hundred_strips_is_under_two_megabytes():
    made = drawn(TWO_HUNDRED)
    assert len(made.data["looks"][0]["strips"]) == 200
    assert len(made.result.files["preview.html"]) < 2_000_000


@pytest.fixture(scope="module")
def week():
    orders = [("steep-tapered", "lattice"), ("shouldered", "ringed-seams"), ("bellied-mug", "spiral")]
    text = "".join(
        f'[[order]]\nid = "O-{n}"\ncup = "{cup}"\npattern = "{pattern}"\nvinyl = "navy-blue"\n'
        for n, (cup, pattern) in enumerate(orders, 1)
    )
    production = produce(parse_job(text, "week.toml", find_preset))
    return production, preview_job(production, None).data


def polygon(path: str) -> shapely.Geometry:
    rings = [
        [tuple(map(float, pair.split())) for pair in ring.split("L")] for ring in re.findall(r"M([^Z]*)Z", path)
    ]
    assert all(math.isfinite(value) for ring in rings for point in ring for value in point)
    # a strip on a wall has no holes here: each ring is a part
    return shapely.union_all([shapely.Polygon(ring) for ring in rings])


def test_the_outlines_on_the_wall_are_those_of_the_strips(week):
    production, data = week
    for order, look in zip(production.job.orders, data["looks"], strict=True):
        wall = production.decorations[order.id].site.wall
        pieces = {piece.id.split(".", 2)[2]: piece for piece in production.pieces if piece.order == order.id}
        assert {strip["name"] for strip in look["strips"]} == set(pieces)
        for strip in look["strips"]:
            shape = pieces[strip["name"]].flat.strip.shape.carried(wall)
            radius = wall.mean_radius_mm
            shown = affine_transform(polygon(strip["path"]), (math.radians(radius), 0, 0, 1, 0, 0))
            whole = shapely.union_all(
                [
                    shapely.transform(shape.polygon, lambda at, by=by: at + (by, 0.0))
                    for by in 2 * math.pi * radius * np.arange(-4, 5)
                ]
            ).intersection(shapely.box(0, -1e3, 2 * math.pi * radius, 1e3))
            assert shown.symmetric_difference(whole).area < 0.05 * shown.length
            assert shapely.hausdorff_distance(shown.boundary, whole.boundary, densify=0.1) < 0.06


def test_rows_of_the_wall_are_its_radii_and_heights_in_order(week):
    production, data = week
    for order, look in zip(production.job.orders, data["looks"], strict=True):
        wall = production.decorations[order.id].site.wall
        rows = [row for section in look["wall"] for row in section]
        downs = [down for down, _, _ in rows]
        assert downs == sorted(downs) and downs[0] == 0 and downs[-1] == pytest.approx(wall.wall_mm, abs=1e-3)
        for down, radius, drop in rows:
            assert radius == pytest.approx(float(wall.radius_mm(down)), abs=1e-3)
            assert drop == pytest.approx(float(wall.drop_mm(down)), abs=1e-3)


def test_what_is_shown_of_a_strip_is_what_is_cut(week):
    production, data = week
    for order, look in zip(production.job.orders, data["looks"], strict=True):
        pieces = {piece.id.split(".", 2)[2]: piece for piece in production.pieces if piece.order == order.id}
        for strip in look["strips"]:
            flat = pieces[strip["name"]].flat
            assert (strip["width"], strip["length"]) == pytest.approx((flat.width_mm, flat.cut_mm), abs=1e-3)
            assert polygon(strip["outline"]).area == pytest.approx(flat.area_mm2, rel=0.01)


def test_no_name_ends_the_script_that_holds_the_data():
    text = page_html({"title": "</script><script>alert(1)</script>", "looks": [], "units": "mm"})
    assert "alert(1)</script>" not in text.partition("<body>")[2].partition("application/json")[2]
    assert "<title>&lt;/script&gt;" in text
    (held,) = re.findall(r'<script type="application/json" id="data">(.*?)</script>', text, re.DOTALL)
    assert json.loads(held)["title"] == "</script><script>alert(1)</script>"


def test_a_page_names_no_other_address():
    text = page_html({"title": "t", "looks": [], "units": "mm"})
    assert set(re.findall(r"https?://[^\s\"')]+", text)) == {"http://www.w3.org/2000/svg"}
    assert "connect-src 'none'" in text
    assert "connect-src 'self'" in page_html({"title": "t", "looks": [], "units": "mm"}, 3)
