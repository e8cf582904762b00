"""What the README says is so: its job file runs, its presets exist, its commands are the command line's."""

from __future__ import annotations

import io
import json
import re
import shlex
from pathlib import Path

import numpy as np
import pytest
from cairosvg import svg2png
from click.testing import CliRunner
from PIL import Image
from readme_made import PICTURES, pictures, walk, walk_commands, with_keys

from stripegen.cli import main
from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.nest import nest
from stripegen.presets import find_preset
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.sheets import lay_out
from stripegen.walls import bare_wall

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, re.DOTALL)
LATER = "stripegen recut"  # the block that begins so is of a week that is cut, and of an order that came late
STOCK = "stripegen stock"  # and the one that begins so of one that is cut of what is in stock


def commands(text: str) -> list[list[str]]:
    lines = [line for line in text.splitlines() if line.startswith("stripegen ")]
    return [shlex.split(line.partition("  #")[0].partition(" > ")[0]) for line in lines]


RENEW = "renew it by python tests/readme_made.py"
WALK = README.partition("\n## From tape to cup\n")[2].partition("\n## ")[0]
_OTHERS = re.findall(r"```sh\n(.*?)```", README.replace(WALK, ""), re.DOTALL)
COMMANDS = [each for text in _OTHERS if not text.startswith((LATER, STOCK)) for each in commands(text)]


def test_its_job_file_runs():
    _, text, *_ = [text for kind, text in BLOCKS if kind == "toml"]
    made = produce(parse_job(text, "README.md", find_preset))
    assert {piece.line for piece in made.pieces} == {"edge", "sash"}
    assert len({piece.cup_no for piece in made.pieces}) == 4
    assert not made.notices


def test_its_fit_is_read():
    fit, job_file, *_ = [text for kind, text in BLOCKS if kind == "toml"]
    job = parse_job(job_file.replace("[cup.quay] ", f"[cup.quay]\n{fit}#"), "README.md", find_preset)
    cup = job.cups["quay"]
    assert float(bare_wall(cup).coated(cup.resin_mm).girth_mm(76.0)) == pytest.approx(231.5)


def test_what_it_says_of_vinyl_in_hand_is_read():
    _, job_file, in_hand, mat, *_ = [text for kind, text in BLOCKS if kind == "toml"]
    whole = job_file.partition("[cutter]")[0] + in_hand + mat
    job = parse_job(whole.replace('vinyl = { accent = "tin" }', 'vinyl = "slate"'), "README.md", find_preset)
    assert job.vinyls["tin-roll"].length_left_mm == 4200
    assert job.vinyls["slate"].quantity == 3 and len(job.vinyls["slate"].sizes) == 2
    assert [offcut.quantity for offcut in job.offcuts] == [2]
    assert job.cutter.mat_mm == (300, 300)
    sheets = lay_out(produce(job), "sheet", nest, prove)
    assert [bool(sheet.offcuts) for sheet in sheets] == sorted((bool(sheet.offcuts) for sheet in sheets), reverse=True)
    assert sheets[0].offcuts


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_its_commands_run(command, tmp_path, monkeypatch, job_text):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "week31.toml").write_text(job_text)
    result = CliRunner().invoke(main, command[1:], catch_exceptions=False)
    assert result.exit_code == 0, result.output


@pytest.fixture(scope="module")
def walked(tmp_path_factory):
    """An empty folder in which the way from tape to cup was gone, and the papers drawn there."""
    folder = tmp_path_factory.mktemp("walk")
    return folder, walk(README, folder)


def test_the_way_from_tape_to_cup_leads_to_what_it_names(walked):
    folder, _ = walked
    assert [command[1] for command in walk_commands(README)] == ["new", "check", "preview", "nest", "guide"]
    named = set(re.findall(r"`((?:[\w-]+/)*[\w-]+\.(?:html|pdf|svg))`", WALK))
    assert {"out/look/preview.html", "out/cut/work-list.html", "guide-A-1.pdf"} <= named
    for name in named:
        assert (folder / name).is_file() or (folder / "out/cut" / name).is_file(), name


def test_its_pictures_are_what_the_tool_draws(walked):
    drawn = pictures(*walked)
    assert {file.name for file in PICTURES.iterdir()} == {f"{name}.svg" for name in drawn}
    for name, svg in drawn.items():
        kept = (PICTURES / f"{name}.svg").read_text(encoding="utf-8")
        assert f".pictures/{name}.svg" in README and len(kept.encode()) < 120_000
        assert texts_in(kept) == texts_in(svg), f"{name}: {RENEW}"
        assert alike(kept, svg), f"{name}: {RENEW}"


def texts_in(svg: str) -> list[str]:
    return re.findall(r"<text[^>]*>([^<]*)<", svg)


def alike(svg: str, other: str) -> bool:
    """Whether two pictures look alike, drawn small by the same means: fonts and last digits make no difference."""
    small, its = (
        np.asarray(Image.open(io.BytesIO(svg2png(bytestring=each.encode(), output_width=700, background_color="#fff"))).convert("RGB"))
        for each in (svg, other)
    )  # fmt: skip
    return small.shape == its.shape and np.mean(np.abs(small.astype(int) - its).max(axis=2) > 40) < 1e-4


def test_pictures_that_differ_are_told_apart():
    kept = (PICTURES / "flat.svg").read_text(encoding="utf-8")
    moved = re.sub(r"(?<=[ M])\d+\.\d\d(?=[ \"])", lambda number: f"{float(number[0]) + 0.003:.3f}", kept)
    assert moved != kept and alike(kept, moved)
    assert not alike(kept, kept.replace('viewBox="0 0', 'viewBox="0.3 0'))
    without_a_strip = re.sub(r'<path [^>]*fill="#1f2f57"[^>]*/>', "", kept, count=1)
    assert without_a_strip != kept and not alike(kept, without_a_strip)


def test_its_page_of_every_key_is_made_of_the_keys():
    assert with_keys(README) == README, RENEW


def test_what_it_says_of_a_spoilt_strip_and_a_late_order_runs(tmp_path, monkeypatch, job_text):
    (later,) = [text for kind, text in BLOCKS if kind == "sh" and text.startswith(LATER)]
    monkeypatch.chdir(tmp_path)
    late = '[[order]]\nid = "R-33"\ncup = "crew"\npattern = "regatta"\nvinyl = "ink"\ndue = 2027-08-04\n'
    (tmp_path / "week31.toml").write_text(job_text)
    assert CliRunner().invoke(main, ["nest", "week31.toml", "-o", "out/week31", "--effort", "quick"]).exit_code == 0
    (tmp_path / "week31.toml").write_text(job_text + late)
    for command in commands(later):
        result = CliRunner().invoke(main, command[1:], catch_exceptions=False)
        assert result.exit_code == 0, result.output
    cut = {name: {piece["id"].rpartition(".")[0] for piece in json.loads((tmp_path / "out" / name).read_text())["pieces"]}
           for name in ("week31/recut.json", "late/nest.json", "due/nest.json", "rest/nest.json")}  # fmt: skip
    late_lines = {f"R-33.1.{line}" for line in ("edge", "sash", "swirl")}
    assert cut.pop("week31/recut.json") == {"R-31.1.sash", *(f"R-31.3.{line}" for line in ("edge", "sash", "swirl"))}
    assert list(cut.values()) == [late_lines] * 3


def test_what_it_says_of_a_stock_file_runs(tmp_path, monkeypatch, job_text):
    (stock,) = [text for kind, text in BLOCKS if kind == "toml" and "[[sheet]]" in text]
    (told,) = [text for kind, text in BLOCKS if kind == "sh" and text.startswith(STOCK)]
    monkeypatch.chdir(tmp_path)
    slate = job_text.replace("[vinyl.brass]", "[vinyl.slate]").replace('"brass"', '"slate"')
    (tmp_path / "week31.toml").write_text('stock = "stock.toml"\n' + slate)
    (tmp_path / "stock.toml").write_text(stock)
    assert CliRunner().invoke(main, ["nest", "week31.toml", "-o", "out/week31", "--effort", "quick"]).exit_code == 0
    (one,) = [command for command in commands(told) if "--only" in command]
    for command in [*commands(told), [*one, "--again"]]:
        result = CliRunner().invoke(main, command[1:], catch_exceptions=False, input="y\n")
        assert result.exit_code == 0, result.output
    assert "As it was before: stock.toml~" in result.output


def test_what_it_says_of_the_cutter_is_read():
    (text,) = [text for kind, text in BLOCKS if kind == "toml" and "cut_past" in text]
    order = '[[order]]\nid = "H-1"\ncup = "tall-tapered"\npattern = "sash"\nvinyl = "tin"\n'
    whole = text.replace("[vinyl.tin]", '[vinyl.tin]\ncolour = "#a8adb3"\nwidth = 305')
    job = parse_job(whole + order, "README.md", find_preset)
    assert job.cutter.scale == pytest.approx((200 / 199.6, 200 / 200.3))
    assert (job.cutter.band_mm, job.cutter.cut_past_mm, job.vinyls["tin"].corner_radius_mm) == (100, 0.8, 0.4)
    assert job.vinyls["tin"].weed and job.vinyls["tin"].cut_from_back


def test_what_it_says_of_panels_is_read():
    (panels,) = [text for kind, text in BLOCKS if kind == "toml" and text.startswith("panels")]
    order = '[[order]]\nid = "H-1"\ncup = "tall-tapered"\npattern = "sash"\nvinyl = "navy-blue"\n'
    job = parse_job(order + panels, "week31.toml", find_preset)
    assert [(panel.image, panel.top_mm) for panel in job.cup_of(job.orders[0]).panels] == [("harbour.png", None), (None, 12.0)]


def test_what_it_says_of_a_sheet_is_read():
    _, job_file, in_hand, *_ = [text for kind, text in BLOCKS if kind == "toml"]
    (orders,) = [text for kind, text in BLOCKS if kind == "toml" and text.startswith("[orders]")]
    (sheet,) = [text for kind, text in BLOCKS if kind == "csv"]
    whole = job_file.partition("[[order]]")[0] + orders + in_hand
    job = parse_job(whole, "week.toml", find_preset, read_file=lambda name: sheet.encode())
    found = [(order.id, order.cup, order.quantity, str(order.due), job.vinyl_of(order, "accent").name) for order in job.orders]
    assert found == [("1024-1", "quay", 4, "2027-07-30", "tin"), ("1024-2", "quay", 12, "2027-08-02", "slate")]
    (fault,) = re.findall(r"    (week31.csv:.*)", README)
    with pytest.raises(JobError) as caught:
        parse_job(whole, "week.toml", find_preset, read_file=lambda name: sheet.replace(";12;", ";1.000;").encode())
    assert str(caught.value) == fault


def test_what_it_says_of_an_order_that_differs_is_read():
    _, job_file, *_ = [text for kind, text in BLOCKS if kind == "toml"]
    (order,) = [text for kind, text in BLOCKS if kind == "toml" and "change " in text]
    (spare,) = re.findall(r"Spares are called `([^`]+)`", README)
    made = produce(parse_job(job_file + order, "week.toml", find_preset))
    ids = [piece.id for piece in made.pieces if piece.order == "Q-2"]
    assert spare in ids and not any("edge" in name for name in ids)


def test_there_are_commands():
    assert {command[1] for command in COMMANDS} >= {"strips", "nest", "check", "preview", "guide"}


def test_its_files_are_there():
    named = re.findall(r"\]\(([^)]+)\)|\b(presets/jobs/[\w-]+\.toml)", README)
    paths = [first or second for first, second in named]
    assert len(paths) >= 3
    anchors = {"#" + re.sub(r"[^a-z0-9 -]", "", title.lower()).replace(" ", "-") for title in re.findall(r"(?m)^#+ (.*)$", README)}
    for path in paths:
        assert path in anchors if path.startswith("#") else (ROOT / path).is_file(), path


def test_the_test_command_is_marked_for_ci():
    assert re.search(r"<!-- tests -->\n```sh\n[^\n]*pytest[^\n]*\n```\n", README)


def test_its_sample_of_the_spacing_is_what_is_printed(tmp_path):
    sample, _ = [text for kind, text in BLOCKS if kind == "text"]
    command = shlex.split(re.search(r"`stripegen (preview --cup [^`]+)`", README)[1])[:-1]
    printed = CliRunner().invoke(main, [*command, str(tmp_path / "out")]).stdout
    for part in sample.split("\n\n"):
        assert part.strip("\n") in printed


SLIPS = {
    "tuck    = 1.5 ": "tuck    = 0.5 ",
    'down = "20%"': "down = 30",
    'down = "80%"': "down = 130",
    "[cutter]": '[[order]]\nid = "Q-2"\ncup = "short-straight"\npattern = "quay"\nvinyl = "tin"\n\n[cutter]',
}


def test_its_sample_of_a_check_is_what_is_printed(tmp_path):
    """Of its own job with three slips in it and an order more."""
    _, sample = [text for kind, text in BLOCKS if kind == "text"]
    _, text, *_ = [text for kind, text in BLOCKS if kind == "toml"]
    for right, slip in SLIPS.items():
        assert text.count(right) == 1
        text = text.replace(right, slip)
    path = tmp_path / "week31.toml"
    path.write_text(text)
    result = CliRunner().invoke(main, ["check", str(path)])
    assert result.exit_code == 1 and result.stdout.startswith(sample)
