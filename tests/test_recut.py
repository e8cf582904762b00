"""Pieces cut again: the shapes that they had, the names that they had, on new sheets, and nothing else touched."""

from __future__ import annotations

import hashlib
import json
import math
import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
import svgpathtools
from click.testing import CliRunner
from conftest import JOB
from manifests import placed_outline

from stripegen.cli import main

SHAPE_MM = 0.01
GRAINED = JOB.replace("width  = 305\n", 'width  = 305\ngrain = "strip"\nflip = false\nmargin = 7\ncut_from_back = true\n')


def run(*args: object):
    return CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False)


def made(folder: Path, job: str, *command: str) -> Path:
    (folder / "week.toml").write_text(job, encoding="utf-8")
    result = run(*(command or ("strips",)), folder / "week.toml", "-o", folder / "out")
    assert result.exit_code == 0, result.output
    (folder / "week.toml").unlink()
    return folder / "out"


@pytest.fixture(scope="module")
def plain(tmp_path_factory) -> Path:
    return made(tmp_path_factory.mktemp("plain"), JOB)


@pytest.fixture(scope="module")
def grained(tmp_path_factory) -> Path:
    return made(tmp_path_factory.mktemp("grained"), GRAINED)


def recut(*args: object) -> dict:
    result = run("recut", *args)
    assert result.exit_code == 0, result.output
    out = args[args.index("-o") + 1] if "-o" in args else args[0]
    return json.loads((out / "recut.json").read_text())


def shas(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def laid(piece: dict) -> shapely.Polygon:
    return shapely.Polygon(placed_outline(piece))


def cut_shapes(folder: Path, manifest: dict, mirrored: bool = False) -> dict[str, np.ndarray]:
    """Each piece's corners as its cut file has them, in the sheet's frame."""
    found = {}
    for sheet in manifest["sheets"]:
        for element in ElementTree.parse(folder / f"{sheet['name']}.svg").getroot():
            path = svgpathtools.parse_path(element.get("d"))
            points = np.array([segment.point(t) for segment in path for t in np.linspace(0, 1, 20)])
            x = sheet["width"] - points.real if mirrored and sheet["film"]["cut_from_back"] else points.real
            found[element.get("id")] = np.stack([x, points.imag], axis=1)
    return found


def congruent(first: np.ndarray, second: np.ndarray, piece: dict, other: dict) -> bool:
    """Whether two shapes on their sheets are one once each is moved back by its own placement; no mirroring."""
    rings = []
    for points, row in ((first, piece), (second, other)):
        turn, (dx, dy) = math.radians(row["placement"]["turn"]), row["placement"]["move"]
        x, y = (points - [dx, dy]).T
        rings.append(shapely.Polygon(np.stack([x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)], 1)))
    ends = [shapely.distance(a.exterior, shapely.points(shapely.get_coordinates(b))).max() for a, b in (rings, rings[::-1])]
    return max(ends) < SHAPE_MM


@pytest.mark.parametrize("case", ["plain", "grained"])
def test_pieces_are_cut_as_they_were(case, request, tmp_path):
    source, mirrored = request.getfixturevalue(case), case == "grained"
    before = shas(source)
    manifest = recut(source, "R-31.2", "R-32.1.sash.2", "-o", tmp_path / "again")
    assert shas(source) == before
    earlier = json.loads((source / "strips.json").read_text())
    old = {piece["id"]: piece for piece in earlier["pieces"]}
    new = {piece["id"]: piece for piece in manifest["pieces"]}
    assert list(new) == [name for name in old if name.startswith("R-31.2.") or name == "R-32.1.sash.2"] and len(new) == 6
    drawn, drawn_before = (cut_shapes(*each, mirrored) for each in ((tmp_path / "again", manifest), (source, earlier)))
    assert set(drawn) == set(new)
    same = ("order", "cup_no", "line", "vinyl", "width", "true_length", "cut_length", "start", "end", "outline", "holes")
    for name, piece in new.items():
        assert {key: piece[key] for key in same} == {key: old[name][key] for key in same}
        assert piece["area"] == pytest.approx(old[name]["area"], rel=1e-3)
        assert congruent(drawn[name], drawn_before[name], piece, old[name])
    assert manifest["command"] == "recut" and manifest["from"] == before["strips.json"]
    assert set(shas(tmp_path / "again")) == {*manifest["files"], "recut.json"}
    for name in shas(tmp_path / "again"):
        assert name.startswith("recut")


@pytest.mark.parametrize("case", ["plain", "grained"])
def test_its_sheets_can_be_cut(case, request, tmp_path):
    manifest = recut(request.getfixturevalue(case), "*", "-o", tmp_path / "again")
    pieces = {piece["id"]: piece for piece in manifest["pieces"]}
    earlier = json.loads((request.getfixturevalue(case) / "strips.json").read_text())
    old = {piece["id"]: piece for piece in earlier["pieces"]}
    assert list(pieces) == list(old)
    films = {sheet["vinyl"]: sheet["film"] for sheet in earlier["sheets"]}
    for sheet in manifest["sheets"]:
        film = films[sheet["vinyl"]]
        assert sheet["film"] == film and sheet["width"] == film["width"]
        assert sheet["length"] == (film["length"] or sheet["used_length"])
        room = shapely.box(0, 0, sheet["width"], sheet["length"]).buffer(-film["margin"] + 1e-6, join_style="mitre")
        shapes = [laid(pieces[name]) for name in sheet["pieces"]]
        assert all(room.contains(shape) for shape in shapes)
        tree = shapely.STRtree(shapes)
        assert len(tree.query(shapes, "dwithin", film["piece_gap"] - 1e-6)[0]) == len(shapes)
        if film["grain"] == "strip":
            turns = {(pieces[name]["placement"]["turn"] - old[name]["placement"]["turn"]) % 360 for name in sheet["pieces"]}
            assert turns == {0.0}


def test_pieces_with_rounded_tips_are_cut_again_too(tmp_path):
    one = ["--cup", "bellied-mug", "--pattern", "ringed-seams", "--vinyl", "matt-black"]
    assert run("strips", *one, "-o", tmp_path).exit_code == 0
    old = {piece["id"]: piece for piece in json.loads((tmp_path / "strips.json").read_text())["pieces"]}
    new = {piece["id"]: piece for piece in recut(tmp_path, "*")["pieces"]}
    assert list(new) == list(old)
    corners = {name: np.array(piece["outline"]).min(axis=0) for name, piece in old.items()}
    assert any(corner.any() for corner in corners.values())  # else this shows nothing
    for name, piece in new.items():
        assert np.array(piece["outline"]) == pytest.approx(np.array(old[name]["outline"]) - corners[name], abs=1e-9)


def test_margin_and_gap_can_be_given(plain, tmp_path):
    manifest = recut(plain, "R-31.*.edge", "--margin", "1 cm", "--gap", "4", "-o", tmp_path)
    pieces = [laid(piece) for piece in manifest["pieces"]]
    assert len(pieces) == 6
    assert min(piece.bounds[0] for piece in pieces) >= 10 - 1e-6 and min(piece.bounds[1] for piece in pieces) >= 10 - 1e-6
    assert min(a.distance(b) for k, a in enumerate(pieces) for b in pieces[:k]) >= 4 - 1e-6


def test_longer_strips_are_longer_at_both_ends(plain, tmp_path):
    manifest = recut(plain, "R-31.1.edge", "R-31.1.sash", "--longer", "2", "-o", tmp_path)
    old = {piece["id"]: piece for piece in json.loads((plain / "strips.json").read_text())["pieces"]}
    assert len(manifest["pieces"]) == 4 and manifest["longer"] == 2.0
    for piece in manifest["pieces"]:
        before = old[piece["id"]]
        assert piece["area"] - before["area"] == pytest.approx(4 * piece["width"], abs=0.02)
        assert piece["cut_length"] == pytest.approx(before["cut_length"] + 4)
        assert [piece[key] for key in ("true_length", "start", "end")] == [before[key] for key in ("true_length", "start", "end")]
        sides = [shapely.Polygon(row["outline"]).minimum_rotated_rectangle.length / 2 for row in (before, piece)]
        assert sides[1] - sides[0] == pytest.approx(4.0, abs=0.02)


IN_HAND = """
[[offcut]]
vinyl = "brass"
width = 60
length = 200

[cutter]
cut_width = 150
mat = { width = 140, length = 300 }
cut_past = 0.5
scale = { across = { drawn = 200, read = 199 }, along = { drawn = 200, read = 201 } }
"""


def test_shared_cuts_offcuts_and_the_cutter(tmp_path):
    shared = JOB.replace("width  = 305\n", "width  = 305\nshared_cuts = true\n") + IN_HAND
    source = made(tmp_path, shared, "nest", "--effort", "quick")
    earlier = json.loads((source / "nest.json").read_text())
    assert any(sheet["offcuts"] for sheet in earlier["sheets"])
    assert any(piece["shares_cut_with"] for piece in earlier["pieces"])
    manifest = recut(source, "*.edge", "*.sash", "--new", "-o", tmp_path / "again")
    old = {piece["id"]: piece for piece in earlier["pieces"]}
    films = {sheet["name"]: sheet for sheet in manifest["sheets"]}
    drawn = cut_shapes(tmp_path / "again", manifest)
    assert len(manifest["pieces"]) == 16
    for piece in manifest["pieces"]:
        assert piece["outline"] == old[piece["id"]]["outline"] and piece["shares_cut_with"] == []
        sheet = films[piece["sheet"]]
        assert sheet["width"] == {"brass": 305.0, "ink": 200.0}[piece["vinyl"]] and not sheet["offcuts"]
        assert laid(piece).bounds[2] <= 150 + 5 + 1e-6
        corners = drawn[piece["id"]] / [200 / 199, 200 / 201]
        assert shapely.distance(laid(piece).exterior, shapely.points(corners)).max() < SHAPE_MM
    assert {json.dumps(sheet["cutter"]) for sheet in manifest["sheets"]} == {json.dumps(earlier["sheets"][0]["cutter"])}


def test_it_lies_beside_what_it_is_made_of(tmp_path):
    source = made(tmp_path, JOB)
    before = shas(source)
    manifest = recut(source, "R-31.1.edge.1")
    after = shas(source)
    assert {name: after[name] for name in before} == before
    assert set(after) - set(before) == {*manifest["files"], "recut.json"}
    assert run("recut", source, "R-31.1.edge.1").exit_code == 0
    refused = run("recut", source, "R-31.1.edge.2")
    assert refused.exit_code == 1 and "--replace" in refused.output and refused.output.count("\n") == 1
    assert shas(source) == after
    assert run("recut", source, "R-31.1.swirl.1", "--replace").exit_code == 0
    assert {name: shas(source)[name] for name in before} == before
    assert not (source / "recut-brass-1.svg").exists() and (source / "recut-ink-1.svg").exists()


def test_a_result_that_tells_less_is_cut_by_what_is_usual(plain, tmp_path):
    manifest = json.loads((plain / "strips.json").read_text())
    for sheet in manifest["sheets"]:
        del sheet["film"], sheet["cutter"]
    (tmp_path / "strips.json").write_text(json.dumps(manifest))
    result = run("recut", tmp_path, "R-32.1")
    assert result.exit_code == 0 and "warning: " in result.output and "margin 5 mm, gap 1.5 mm" in result.output
    again = json.loads((tmp_path / "recut.json").read_text())
    assert {sheet["vinyl"]: sheet["width"] for sheet in again["sheets"]} == {"ink": 200.0}
    assert again["warnings"][0]["code"] == "taken-for-granted"


@pytest.mark.parametrize(
    "args, told",
    [
        (["R-31.1.sahs"], 'did you mean "R-31.1.sash"'),
        (["R_31.1.sash"], 'did you mean "R-31"'),
        (["R-31.1.edg"], 'did you mean "R-31.1.edge"'),
        (["*.nothing"], "no piece's id is like this"),
        (["R-32.1.swirl", "--longer", "1"], "R-32.1.swirl.1: can't be made longer: it is"),
        (["R-32.1.edge", "--margin", "100"], "above two margins"),
    ],
)
def test_what_can_not_be_cut_is_told_in_a_line(args, told, plain, tmp_path):
    result = run("recut", plain, *args, "-o", tmp_path / "again")
    assert result.exit_code == 1 and told in result.output and result.output.count("\n") == 1
    assert not (tmp_path / "again").exists()


def spoilt(change):
    def apply(text: str) -> str:
        manifest = json.loads(text)
        change(manifest)
        return json.dumps(manifest)

    return apply


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text[:1000],
        lambda text: "[]",
        spoilt(lambda m: m.update(version=2)),
        spoilt(lambda m: m.pop("pieces")),
        spoilt(lambda m: m["pieces"][0].update(id="../x")),
        spoilt(lambda m: m["pieces"][0].update(outline=[[0, 0], [1, 1], [1, 0], [0, 1]])),
        spoilt(lambda m: m["pieces"][0].update(outline=[[0, 0], [math.nan, 1], [1, 0]])),
        spoilt(lambda m: m["pieces"][0].update(vinyl="none")),
        spoilt(lambda m: m["pieces"].append(m["pieces"][0])),
        spoilt(lambda m: [sheet.update(vinyl="../up") for sheet in m["sheets"]]),
        spoilt(lambda m: m["sheets"][0]["film"].update(margin="wide")),
        spoilt(lambda m: m["sheets"][0].update(film=None)),
        spoilt(lambda m: m["sheets"][0]["cutter"].update(band="x")),
    ],
)
def test_a_spoilt_manifest_is_told_in_a_line(change, plain, tmp_path):
    (tmp_path / "nest.json").write_text(change((plain / "strips.json").read_text()))
    result = run("recut", tmp_path, "*")
    assert result.exit_code == 1 and re.fullmatch(r"[^\n]*nest\.json: [^\n]*\n", result.output), result.output
    assert [path.name for path in tmp_path.iterdir()] == ["nest.json"]


def test_no_result_is_told_in_a_line(tmp_path):
    result = run("recut", tmp_path, "R-31")
    assert result.exit_code == 1 and "no nest.json or strips.json" in result.output and result.output.count("\n") == 1
