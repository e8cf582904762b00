"""The commands as a user runs them: files, messages, exit status, and nothing left behind by a run that fails."""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from stripegen.cli import main

WRITING = ["strips", "nest", "preview", "guide"]


def run(*args: object):
    return CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False)


def python(*args: object, **environ: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, *map(str, args)], capture_output=True, text=True, env={**os.environ, **environ}, check=False
    )


@pytest.mark.parametrize("command", ["strips", "nest"])
def test_every_piece_is_written_once(command, job_file, tmp_path):
    out = tmp_path / "out"
    result = run(command, job_file, "-o", out)
    assert result.exit_code == 0, result.output
    manifest = json.loads((out / f"{command}.json").read_text())
    ids = [piece["id"] for piece in manifest["pieces"]]
    # 3 + 1 cups of 2 edges, 2 sash stripes and the swirl
    assert len(ids) == len(set(ids)) == 4 * 5
    assert sorted(id for sheet in manifest["sheets"] for id in sheet["pieces"]) == sorted(ids)
    stem = "strips" if command == "strips" else "sheet"
    assert {sheet["name"] for sheet in manifest["sheets"]} == {f"{stem}-brass-1", f"{stem}-ink-1"}
    names = {path.name for path in out.iterdir()}
    assert names == {*manifest["files"], f"{command}.json"}
    for sheet in manifest["sheets"]:
        assert {f"{sheet['name']}{end}" for end in (".svg", ".pdf", "-key.svg", "-key.pdf")} <= names
    for name, digest in manifest["files"].items():
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest
    assert "20 pieces on 2 sheets" in result.output
    assert "tightness" in result.output and "waste" in result.output


def test_preview_tells_dimensions_if_asked(tmp_path):
    cup = ["--cup", "tall-tapered", "--pattern", "seam-stripes", "--vinyl", "matt-black"]
    run("preview", *cup, "-o", tmp_path / "plain")
    run("preview", *cup, "--dimensions", "-o", tmp_path / "told")
    for part, text in (("sides", ">height 160<"), ("flat", ">seam 6<")):
        plain, told = ((tmp_path / folder / f"preview-one-{part}.svg").read_text() for folder in ("plain", "told"))
        assert text in told and text not in plain


def test_preview_writes_pictures_of_each_look(job_file, tmp_path):
    out = tmp_path / "out"
    result = run("preview", job_file, "-o", out)
    assert result.exit_code == 0, result.output
    manifest = json.loads((out / "preview.json").read_text())
    expected = {f"preview-{order}-{part}{end}" for order in ("R-31", "R-32") for part in ("flat", "sides")
                for end in (".svg", ".png")}  # fmt: skip
    assert set(manifest["files"]) == expected | {"preview.html"}
    for name in expected:
        head = (out / name).read_bytes()[:8]
        assert head.startswith(b"\x89PNG" if name.endswith(".png") else b"<?xml")


CLOSE = ["--cup", "short-straight", "--pattern", "candy", "--vinyl", "matt-black"]


@pytest.mark.parametrize("command", ["preview", "check"])
def test_lines_nearer_than_asked_for_are_told(command, tmp_path):
    out = ["-o", tmp_path / "out"] if command == "preview" else []
    assert "come within" not in run(command, *CLOSE, *out).output
    for length in ("200 mm", "8in", "200"):
        result = run(command, *CLOSE, *out, "--min-gap", length)
        assert result.exit_code == 0
        (told,) = [line for line in result.output.splitlines() if "broad" in line and "come within" in line]
        start = r"warning: .+\.toml:\d+:\d+: one broad: " if command == "preview" else r"  warning too-close: .+\.toml:\d+:\d+: "
        assert re.match(start, told) and "the least gap asked for" in told
    if command == "preview":
        manifest = json.loads((tmp_path / "out" / "preview.json").read_text())
        assert [warning["code"] for warning in manifest["warnings"]] == ["too-close"]
        assert set(manifest["previews"][0]["spacing"]) == {
            "levels", "meridians", "openings", "pairs", "evenness", "clearances", "crossings",
        }  # fmt: skip
        assert "Along the wall between neighbours" in result.stdout


@pytest.mark.parametrize("length", ["wide", "-3", "3 feet", "20%"])
def test_what_is_no_least_gap_is_refused(length, job_file):
    result = run("check", job_file, "--min-gap", length)
    assert result.exit_code == 2 and "--min-gap" in result.stderr and "must" in result.stderr


def test_check_writes_nothing(job_file, tmp_path):
    before = sorted(tmp_path.rglob("*"))
    result = run("check", job_file)
    assert result.exit_code == 0
    assert "2 orders, 4 cups, 20 pieces: nothing wrong, 1 warning." in result.output
    assert '[[pattern.regatta.line]] "swirl": one tip is narrower than 1 mm' in result.output
    assert sorted(tmp_path.rglob("*")) == before


MEASURED = """
units = "in"

[cup.mug]
rim    = { diameter = 3.5 }
base   = { diameter = 3.5 }
height = 4
seal   = "0.15 mm"

[vinyl.brass]
colour = "#b8923a"
width  = 12
thickness = "0.08 mm"

[pattern.belt]
[[pattern.belt.line]]
name    = "belt"
kind    = "ring"
down    = 1
width   = 0.25
overlap = "2 mm"
vinyl   = "brass"

[[order]]
id = "M-1"
cup = "mug"
pattern = "belt"

[[order]]
id = "M-2"
cup = "mug"
pattern = "belt"
"""


def test_a_preview_needs_no_sheet_that_its_pieces_fit(job_file, tmp_path):
    job_file.write_text(job_file.read_text().replace("width  = 305\nlength = 400", "width  = 40\nlength = 50"))
    result = run("preview", job_file, "-o", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert "Not laid out: " in (tmp_path / "out" / "preview.html").read_text(encoding="utf-8")


def test_guide_writes_papers_of_each_look_and_a_ring_of_each_cup(job_file, tmp_path):
    out = tmp_path / "out"
    result = run("guide", job_file, "-o", out, "--paper", "letter")
    assert result.exit_code == 0, result.output
    manifest = json.loads((out / "guide.json").read_text())
    assert set(manifest["files"]) == {"guide-R-31.pdf", "guide-R-32.pdf", "ring-crew.pdf", "work-list.html", "work-list.pdf"}
    assert {path.name for path in out.iterdir()} == {*manifest["files"], "guide.json"}
    for name, digest in manifest["files"].items():
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest
    assert manifest["paper"] == "Letter" and manifest["job"] == "week.toml"
    assert "2 paper guides, 1 fit ring and the work list of 2 orders in" in result.stdout
    assert run("guide", job_file, "-o", out, "--paper", "a5").exit_code == 2
    options = ("--cup", "tall-tapered", "--pattern", "sash", "--vinyl", "navy-blue")
    refused = run("guide", *options, "-o", out)
    assert refused.exit_code == 1 and "--replace" in refused.stderr
    assert run("guide", *options, "-o", out, "--replace").exit_code == 0
    assert {path.name for path in out.iterdir()} == {"guide-one.pdf", "ring-tall-tapered.pdf", "work-list.html", "work-list.pdf", "guide.json"}


def test_check_tells_how_sure_the_measures_are(tmp_path):
    path = tmp_path / "mugs.toml"
    path.write_text(MEASURED)
    result = run("check", path)
    assert result.exit_code == 0
    # pi x 3.5 in at every place; the ring lies a quarter of the way down: it grows by 3/4 pi mm with the rim's diameter
    assert result.stdout.count("round the cup should read 11.00 in at 0.47 in down, 11.00 in at 2.12 in and 11.00") == 1
    head = r"measure +longest piece \(belt, 11.00\) +worst joint\n"
    assert re.search(head + r" +rim diameter +\+0.093 +\+0.093\n", result.stdout)
    assert "An overlap of 1/8 in or more covers that." in result.stdout
    assert "2 orders, 2 cups, 2 pieces: nothing wrong, 2 warnings." in result.stdout
    _, thick, _, joint, *_ = result.stdout.splitlines()
    assert result.stdout.startswith("order M-1: mug, belt\n  warning stack-too-thick: mugs.toml")
    assert "0.16 mm of film, more than the 0.15 mm of resin that come over it (and so M-2)" in thick
    assert "rim diameter opens its joint by 0.093 in, more than its overlap of 0.079 in" in joint


BROKEN = {
    "unknown key": ("resin  = 0.8", "resine = 0.8", ["[cup.crew]", "resine", "resin"]),
    "wrong unit": ("resin  = 0.8", 'resin  = "0.8 furlong"', ["[cup.crew] resin", "furlong", "mm"]),
    "not a number": ("resin  = 0.8", "resin  = nan", ["[cup.crew] resin", "nan"]),
    "misses the wall": ('start = { around = 30, down = "10%" }', "start = { around = 30, down = 170 }",
                        ['"swirl"', "170", "misses the wall"]),
    "longer than the sheet": ("width  = 305\nlength = 400", "width  = 90\nlength = 90", ["R-31.1.edge.1", "split"]),
    "leaves the wall": ('path  = "even-drop"', 'path  = "straight"\nrepeat = 0', ["repeat"]),
    "no such seam": ('around = ["front", "back"]', 'around = ["front", "bakc"]', ["bakc", "back"]),
    "not TOML": ("[cup.crew]", "[cup.crew", ["week.toml:4:10: "]),
    "unknown vinyl": ('vinyl = "ink"\n', 'vinyl = "inc"\n', ["inc", "ink"]),
}  # fmt: skip


@pytest.mark.parametrize("case", BROKEN)
@pytest.mark.parametrize("command", [*WRITING, "check"])
def test_a_fault_is_one_line_and_leaves_no_file(command, case, job_file, tmp_path):
    if case == "longer than the sheet" and command in ("preview", "guide"):
        return  # they need no sheet
    old, new, told = BROKEN[case]
    text = job_file.read_text()
    assert old in text
    job_file.write_text(text.replace(old, new))
    out = tmp_path / "out"
    result = run(command, job_file, *(["-o", out] if command != "check" else []))
    assert result.exit_code == 1
    assert not out.exists()
    assert "Traceback" not in result.output
    if command == "check":
        assert not result.stderr and "  fault " in result.stdout
        assert all(word in result.stdout for word in told), result.stdout
        return
    lines = result.stderr.strip().splitlines()
    assert all(word in result.stderr for word in told), result.stderr
    assert all("week.toml" in line for line in lines), result.stderr


def test_nest_ends_with_what_it_costs(job_file, tmp_path):
    text = job_file.read_text().replace("width  = 200", "width  = 200\nprice = { roll = 20.0, length = 5000 }")
    job_file.write_text(text)
    result = run("nest", job_file, "--effort", "quick", "-o", tmp_path / "out")
    assert result.exit_code == 0, result.output
    sheets, _, bills = result.stdout.partition("\n\n")
    assert "\n20 pieces on 2 sheets in " in sheets
    length = json.loads((tmp_path / "out" / "nest.json").read_text())["sheets"][1]["used_length"]
    vinyls, orders, summary = (part.splitlines() for part in bills.split("\n\n"))
    assert [line.split()[0] for line in vinyls] == ["vinyl", "brass", "ink", "week"]
    assert float(vinyls[2].split()[-1]) == pytest.approx(20 * length / 5000, abs=0.0051)
    assert [line.split()[0] for line in orders] == ["order", "R-31", "R-32", "brass"]
    assert orders[-1] == "brass has no price: left out of the prices"
    assert f"Cost of the vinyl: {vinyls[-1].split()[-1]}, without brass, which has no price." in summary
    assert (tmp_path / "out" / "costs.csv").exists()


def test_the_number_of_processes_changes_nothing(job_file, tmp_path):
    job_file.write_text(job_file.read_text().replace("quantity = 3", "quantity = 50"))  # worth a second process
    results = []
    for number in (1, 2):
        out = tmp_path / f"out-{number}"
        done = python("-m", "stripegen", "nest", job_file, "-o", out, "--effort", "quick", "--processes", number)
        assert done.returncode == 0, done.stderr
        results.append((done.stdout.replace(str(out), ""), {path.name: path.read_bytes() for path in out.iterdir()}))
    assert results[0] == results[1]


def test_orders_kept_together_and_what_that_costs(job_file, tmp_path):
    out = tmp_path / "out"
    result = run("nest", job_file, "-o", out, "--group", "order", "--effort", "quick")
    assert result.exit_code == 0, result.output
    plain = run("nest", job_file, "-o", tmp_path / "plain", "--effort", "quick")
    grouped, ungrouped = (json.loads((folder / "nest.json").read_text()) for folder in (out, tmp_path / "plain"))
    assert sorted(piece["id"] for piece in grouped["pieces"]) == sorted(piece["id"] for piece in ungrouped["pieces"])
    table = result.stdout.split("\n\n")[-2].splitlines()
    assert [line.split()[0] for line in table] == ["by", "brass", "ink", "week"]
    assert "by order" not in plain.stdout
    # what is told of the ungrouped nest is what that gives by itself
    for row, line in zip(grouped["grouping"]["vinyls"], table[1:], strict=False):
        own = [sheet for sheet in ungrouped["sheets"] if sheet["vinyl"] == row["vinyl"]]
        assert row["ungrouped"]["sheets"] == len(own)
        assert row["ungrouped"]["used_length"] == pytest.approx(sum(sheet["used_length"] for sheet in own))
        longer = row["used_length"] / row["ungrouped"]["used_length"] - 1
        assert line.split()[-1] == f"{longer:+.1%}"
    assert ungrouped["grouping"] is None
    assert run("nest", job_file, "-o", out, "--group", "cup").exit_code == 2


def test_command_line_faults_have_status_2(job_file, tmp_path):
    assert run("nest", job_file).exit_code == 2  # no -o
    assert run("nest", "-o", tmp_path / "out").exit_code == 2  # no job
    assert run("nest", job_file, "--cup", "x", "-o", tmp_path / "out").exit_code == 2
    assert run("nest", job_file, "--effort", "lazy", "-o", tmp_path / "out").exit_code == 2
    assert run("frobnicate").exit_code == 2


def test_a_missing_job_file_is_a_fault(tmp_path):
    result = run("check", tmp_path / "none.toml")
    assert result.exit_code == 1 and "no such file" in result.output


def test_a_job_that_is_not_text_is_a_fault(tmp_path):
    path = tmp_path / "week.toml"
    path.write_bytes(b"title = \xff")
    result = run("check", path)
    assert result.exit_code == 1 and "UTF-8" in result.output and "byte 9" in result.output


def test_another_jobs_result_is_kept_unless_told(job_file, tmp_path):
    out = tmp_path / "out"
    assert run("strips", job_file, "-o", out).exit_code == 0
    assert run("strips", job_file, "-o", out).exit_code == 0  # the same job again
    other = tmp_path / "other.toml"
    other.write_text(job_file.read_text().replace("R-31", "X-1").replace('vinyl = "ink"\n\n', 'vinyl = "ink"\n\n'))
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    refused = run("strips", other, "-o", out)
    assert refused.exit_code == 1 and "--replace" in refused.stderr
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    assert run("strips", other, "-o", out, "--replace").exit_code == 0
    assert '"X-1"' in (out / "strips.json").read_text()


def test_equal_jobs_give_equal_bytes(job_file, tmp_path):
    results = []
    for number, environ in enumerate(({"PYTHONHASHSEED": "1", "TZ": "UTC"}, {"PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo"})):
        folder = tmp_path / f"somewhere-{number}"
        folder.mkdir()
        done = python("-m", "stripegen", "nest", job_file, "-o", folder / "out", **environ)
        assert done.returncode == 0, done.stderr
        for command in ("preview", "guide"):
            done = python("-m", "stripegen", command, job_file, "-o", folder / "out", **environ)
            assert done.returncode == 0, done.stderr
        results.append({path.name: path.read_bytes() for path in (folder / "out").iterdir()})
    assert results[0] == results[1]


def test_help_imports_nothing_heavy():
    code = (
        "import sys; from stripegen.cli import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'shapely', 'numpy', 'cairosvg', 'cairocffi', 'svgwrite', 'scipy', 'rich'} & set(sys.modules)\n"
        "assert not heavy, heavy"
    )
    done = python("-c", code)
    assert done.returncode == 0, done.stderr
    assert "strips" in done.stdout and "nest" in done.stdout


def test_without_cairo_the_svg_still_comes_out(job_file, tmp_path):
    # a cairocffi that fails to load, as it does where the library is missing
    broken = tmp_path / "broken" / "cairocffi"
    broken.mkdir(parents=True)
    (broken / "__init__.py").write_text("raise OSError('no library called \"cairo-2\" was found')")
    out = tmp_path / "out"
    done = python("-m", "stripegen", "strips", job_file, "-o", out, PYTHONPATH=f"{broken.parent}{os.pathsep}.")
    assert done.returncode == 0, done.stderr
    assert "cairo" in done.stderr and "install" in done.stderr
    manifest = json.loads((out / "strips.json").read_text())
    assert not [name for name in manifest["files"] if name.endswith(".pdf")]
    for sheet in manifest["sheets"]:
        assert sheet["files"] == [f"{sheet['name']}.svg"]
        assert (out / f"{sheet['name']}.svg").exists()


def test_one_order_of_presets(tmp_path):
    out = tmp_path / "out"
    options = ["--cup", "small-tumbler", "--pattern", "sash", "--vinyl", "matt-black", "--quantity", 2]
    result = run("nest", *options, "--effort", "quick", "-o", out)
    assert result.exit_code == 0, result.output
    manifest = json.loads((out / "nest.json").read_text())
    assert manifest["job"] is None
    assert manifest["selection"] == {
        "cup": "small-tumbler", "pattern": "sash", "vinyl": ["matt-black"], "quantity": 2,
    }  # fmt: skip
    assert {piece["cup_no"] for piece in manifest["pieces"]} == {1, 2}


def test_presets_are_listed_and_shown():
    listed = run("presets")
    assert listed.exit_code == 0
    for word in ("cups", "patterns", "vinyls", "small-tumbler", "sash", "matt-black", "demo-week"):
        assert word in listed.output
    shown = run("presets", "show", "sash")
    assert shown.exit_code == 0
    assert "[pattern.sash]" in shown.output
    missing = run("presets", "show", "../../etc/passwd")
    assert missing.exit_code == 1 and re.search("no (kind of )?preset has this name", missing.stderr)


def test_a_users_preset_comes_before_a_shipped_one(tmp_path, monkeypatch, job_file):
    monkeypatch.setattr("click.get_app_dir", lambda name: str(tmp_path / "config"))
    folder = tmp_path / "config" / "presets" / "vinyls"
    folder.mkdir(parents=True)
    (folder / "matt-black.toml").write_text('[vinyl.matt-black]\ncolour = "#010203"\nwidth = 222\n')
    out = tmp_path / "out"
    result = run("strips", "--cup", "small-tumbler", "--pattern", "sash", "--vinyl", "matt-black", "-o", out)
    assert result.exit_code == 0, result.output
    assert json.loads((out / "strips.json").read_text())["sheets"][0]["width"] == 222.0


def test_the_folder_may_be_relative_and_new(job_file, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run("strips", job_file.name, "-o", Path("a/b")).exit_code == 0
    assert (tmp_path / "a" / "b" / "strips.json").exists()


IN_HAND = """
[[offcut]]
vinyl = "brass"
width = 200
length = 60
quantity = 2
"""


def test_a_nest_uses_offcuts_and_writes_what_is_left_over(job_file, tmp_path):
    job_file.write_text(job_file.read_text() + IN_HAND)
    out = tmp_path / "out"
    result = run("nest", job_file, "--effort", "quick", "-o", out)
    assert result.exit_code == 0, result.output
    manifest = json.loads((out / "nest.json").read_text())
    assert manifest["sheets"][0]["offcuts"] and manifest["sheets"][0]["vinyl"] == "brass"
    assert {path.name for path in out.iterdir()} == {*manifest["files"], "nest.json"}
    (left,) = manifest["leftovers"]["offcuts"]
    assert left["quantity"] == 1
    assert f"Keep for later: brass {left['width']:g} x {left['length']:g} mm." in result.output.splitlines()
    assert "[[offcut]]" in (out / "offcuts.toml").read_text()
    # rows are laid on new stock, and both results share a folder in peace
    rows = run("strips", job_file, "-o", out)
    assert rows.exit_code == 0, rows.output
    assert not any(sheet["offcuts"] for sheet in json.loads((out / "strips.json").read_text())["sheets"])
    assert run("nest", job_file, "--effort", "quick", "-o", out).exit_code == 0


@pytest.mark.parametrize("command", ["nest", "check"])
def test_too_little_vinyl_is_a_fault_that_tells_what_is_left_over(command, job_file, tmp_path):
    text = job_file.read_text()
    job_file.write_text(text.replace("quantity = 3", "quantity = 30").replace("length = 400", "length = 300\nquantity = 1"))
    out = tmp_path / "out"
    result = run(command, job_file, *(["-o", out] if command == "nest" else []))
    assert result.exit_code == 1 and not out.exists()
    (line,) = [line for line in result.output.splitlines() if "there is too little of it: no room for" in line]
    assert "[vinyl.brass]: there" in line
    assert "R-31." in line and "mm more of 305 mm width" in line


def test_a_check_of_a_short_roll_that_suffices_only_nested_finds_nothing_wrong(job_file, tmp_path):
    text = job_file.read_text()
    job_file.write_text(text.replace("width  = 200", "width  = 200\nlength_left = 400"))
    rows = run("strips", job_file, "-o", tmp_path / "out")
    assert rows.exit_code == 1 and "400 mm are left of the roll: nest it" in rows.stderr
    result = run("check", job_file)
    assert result.exit_code == 0 and "nothing wrong" in result.output
