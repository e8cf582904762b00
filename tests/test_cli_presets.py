"""Presets of one's own: saved, shown, removed, and which of several with one name a job takes."""

from __future__ import annotations

import json
import os

import pytest
from click.testing import CliRunner

from stripegen.cli import main
from stripegen.presets import find_preset

CUP = "rim = { diameter = 82 }\nbase = { diameter = 82 }\nheight = 95\n"


def run(*args: object):
    return CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False)


def told(*args: object) -> dict:
    return json.loads(run(*args, "--json").stdout)


@pytest.fixture
def own(tmp_path, monkeypatch):
    monkeypatch.setattr("click.get_app_dir", lambda name: str(tmp_path / "config"))
    return tmp_path / "config" / "presets"


def test_a_jobs_table_is_saved_and_used_by_another_job(own, job_file, tmp_path):
    saved = run("presets", "save", job_file, "cup.crew", "--as", "harbour-cup", "--about", "Of the harbour week")
    assert saved.exit_code == 0, saved.stderr
    path = own / "cups" / "harbour-cup.toml"
    assert saved.stdout == f"The cup harbour-cup is saved in {path}\n"
    assert path.read_text().splitlines()[0] == "# Of the harbour week"
    assert "  harbour-cup     Of the harbour week  (your own)\n" in run("presets").stdout
    assert run("presets", "show", "harbour-cup").stdout == path.read_text()
    options = ["--cup", "harbour-cup", "--pattern", "sash", "--vinyl", "matt-black"]
    assert run("strips", *options, "-o", tmp_path / "out", "--quiet").exit_code == 0


def test_what_is_saved_is_not_lost_by_saving_again(own, job_file):
    assert run("presets", "save", job_file, "vinyl.ink").exit_code == 0
    path = own / "vinyls" / "ink.toml"
    before = path.read_bytes()
    job_file.write_text(job_file.read_text().replace("width  = 200", "width  = 210"))
    refused = run("presets", "save", job_file, "vinyl.ink")
    assert refused.exit_code == 1 and "--replace" in refused.stderr and path.read_bytes() == before
    assert run("presets", "save", job_file, "vinyl.ink", "--replace").exit_code == 0
    assert "width  = 210" in path.read_text()
    twin = run("presets", "save", job_file, "vinyl.ink", "--as", "INK", "--replace")
    assert twin.exit_code == 1 and "differs only in case" in twin.stderr
    assert [each.name for each in path.parent.iterdir()] == ["ink.toml"]  # no half a file either


def test_a_file_of_one_table_needs_no_name_and_one_of_several_does(own, job_file, tmp_path):
    single = tmp_path / "mug.toml"
    single.write_text(f"# A mug\n[cup.mug]\n{CUP}")
    assert run("presets", "save", single).exit_code == 0
    assert (own / "cups" / "mug.toml").exists()
    refused = run("presets", "save", job_file)
    assert refused.exit_code == 1
    assert refused.stderr == "week.toml: say which table of it to save: cup.crew, vinyl.brass, vinyl.ink, pattern.regatta\n"
    assert "cup.NAME" in run("presets", "save", job_file, "order.R-31").stderr
    assert "no such table" in run("presets", "save", job_file, "cup.crow").stderr


def test_what_is_unsound_is_not_saved(own, job_file):
    job_file.write_text(job_file.read_text().replace("resin  = 0.8", "resine = 0.8"))
    refused = run("presets", "save", job_file, "cup.crew")
    assert refused.exit_code == 1 and 'did you mean "resin"?' in refused.stderr
    assert not own.exists()


def test_pictures_of_a_cup_are_told(own, job_file):
    assert "Pictures" not in run("presets", "save", job_file, "cup.crew", "--as", "bare").stdout
    panels = 'panels = [ { from = "front", to = "back", image = "harbour.png" } ]'
    job_file.write_text(job_file.read_text().replace("resin  = 0.8", panels))
    assert "beside each job file" in run("presets", "save", job_file, "cup.crew").stdout


def test_a_copy_hides_the_shipped_one_until_it_is_removed(own):
    assert "comes before the shipped pattern" in run("presets", "save", "sash").stdout
    path = own / "patterns" / "sash.toml"
    (row,) = [each for each in told("presets")["presets"] if (each["kind"], each["name"]) == ("pattern", "sash")]
    assert (row["own"], row["hides_shipped"], row["file"]) == (True, True, str(path))
    assert "(your own, in place of the shipped one)" in run("presets").stdout
    assert told("presets", "show", "sash")["preset"]["file"] == str(path)
    removed = run("presets", "remove", "sash")
    assert removed.exit_code == 0 and not path.exists() and "holds again" in removed.stdout
    assert told("presets", "show", "sash")["preset"]["own"] is False
    again = run("presets", "remove", "patterns/sash")
    assert again.exit_code == 1 and "shipped" in again.stderr
    assert find_preset("pattern", "sash") is not None


def test_the_job_comes_before_the_users_own_and_that_before_the_shipped(own, job_file, tmp_path):
    def vinyl(width: int) -> str:
        return f'[vinyl.matt-black]\ncolour = "#010203"\nwidth = {width}\n'

    def width_used(number: int) -> float:
        out = tmp_path / f"out-{number}"
        assert run("strips", job_file, "--only", "R-32", "-o", out, "--quiet").exit_code == 0
        return json.loads((out / "strips.json").read_text())["sheets"][0]["width"]

    text = job_file.read_text().replace('"ink"', '"matt-black"')
    job_file.write_text(text)
    assert width_used(1) == 305
    saved = tmp_path / "own.toml"
    saved.write_text(vinyl(222))
    assert run("presets", "save", saved).exit_code == 0
    assert width_used(2) == 222
    job_file.write_text(text + vinyl(233))
    assert width_used(3) == 233
    assert run("presets", "remove", "matt-black").exit_code == 0
    job_file.write_text(text)
    assert width_used(4) == 305


def test_kinds_of_one_name_are_told_apart(own, tmp_path):
    single = tmp_path / "sash.toml"
    single.write_text(f"[cup.sash]\n{CUP}")
    run("presets", "save", single)
    assert "[cup.sash]" in run("presets", "show", "cups/sash").stdout
    assert "[pattern.sash]" in run("presets", "show", "patterns/sash").stdout
    assert "[pattern.sash]" in run("presets", "show", "pattern/sash").stdout


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="everything may be written to")
def test_a_folder_that_refuses_is_told(own, job_file):
    own.parent.mkdir()
    own.parent.chmod(0o500)
    refused = run("presets", "save", job_file, "cup.crew")
    assert refused.exit_code == 1 and len(refused.stderr.splitlines()) == 1


def test_a_file_in_place_of_the_folder_is_told(own, job_file):
    own.parent.mkdir()
    own.write_text("")
    refused = run("presets", "save", job_file, "cup.crew")
    assert refused.exit_code == 1 and len(refused.stderr.splitlines()) == 1 and "can't be made" in refused.stderr
