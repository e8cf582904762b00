"""A nest after another: together they cut each piece once, and again only what has changed."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner
from conftest import JOB
from hypothesis import given
from hypothesis import strategies as st

from stripegen.after import left_to_cut
from stripegen.cli import main
from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.readback import read_back
from stripegen.reading import lay_in_reading_order
from stripegen.results import sheets_result
from stripegen.sheets import lay_out

LATE = '[[order]]\nid = "R-33"\ncup = "crew"\npattern = "regatta"\nvinyl = "brass"\n'


def production_of(text: str):
    return produce(parse_job(text, "week.toml", lambda kind, name: None))


def result_of(production):
    result = sheets_result("strips", production, lay_out(production, "strips", lay_in_reading_order, prove), None)
    return read_back(result.files["strips.json"], "out/nest.json")


@pytest.fixture(scope="module")
def week():
    production = production_of(JOB)
    return production, result_of(production)


@given(st.data())
def test_what_is_left_is_what_was_not_cut(week, data):
    production, earlier = week
    cut = data.draw(st.sets(st.sampled_from([piece.id for piece in production.pieces])))
    some = replace(earlier, pieces=tuple(piece for piece in earlier.pieces if piece.id in cut))
    if len(cut) == len(production.pieces):
        return
    left = left_to_cut(production, [some])
    assert [piece for piece in production.pieces if piece.id not in cut] == list(left.pieces)
    assert {order.id for order in left.job.orders} == {piece.order for piece in left.pieces} == set(left.decorations)
    assert set(left.notices) <= set(production.notices)


def test_nothing_is_left_of_what_is_cut(week):
    production, earlier = week
    with pytest.raises(JobError, match=r"^week\.toml --after: nothing is left to cut: out/nest\.json holds every piece$"):
        left_to_cut(production, [earlier])


def test_a_late_order_is_left_and_in_two_parts_too(week):
    _, earlier = week
    more = production_of(JOB + LATE)
    left = left_to_cut(more, [earlier])
    assert {piece.order for piece in left.pieces} == {"R-33"} and len(left.pieces) == 5
    with pytest.raises(JobError, match="nothing is left"):
        left_to_cut(more, [earlier, result_of(left)])


def test_what_has_changed_is_cut_again_and_told(week):
    _, earlier = week
    changed = production_of(JOB.replace("width  = 5\n", "width  = 6\n"))
    left = left_to_cut(changed, [earlier])
    assert {piece.line for piece in left.pieces} >= {"edge"} and "swirl" not in {piece.line for piece in left.pieces}
    told = {(notice.order, notice.line): notice.message for notice in left.notices if notice.code == "changed"}
    assert told["R-31", "edge"].startswith("6 pieces of another shape")
    other = left_to_cut(production_of(JOB.replace('vinyl = { accent = "brass" }', 'vinyl = "ink"')), [earlier])
    assert {(piece.order, piece.line) for piece in other.pieces} == {("R-31", "edge"), ("R-31", "sash")}


def test_of_a_unit_all_is_cut_again():
    united = production_of(JOB.replace("gap     = 2.5\n", "gap     = 2.5\ntogether = true\n"))
    earlier = result_of(united)
    one = next(piece.id for piece in united.pieces if piece.line == "sash")
    some = replace(earlier, pieces=tuple(piece for piece in earlier.pieces if piece.id != one))
    left = left_to_cut(united, [some])
    assert [piece.id for piece in left.pieces] == ["R-31.1.sash.1", "R-31.1.sash.2"]


def test_vinyl_in_hand_is_told_of(week):
    _, earlier = week
    offcut = '[[offcut]]\nvinyl = "brass"\nwidth = 120\nlength = 300\n'
    left = left_to_cut(production_of(JOB + LATE + offcut), [earlier])
    assert [notice.message.split(" is taken")[0] for notice in left.notices if notice.code == "in-hand"] == [
        "what the job says is in hand of brass"
    ]


def run(*args: object):
    return CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False)


def test_nest_after_a_nest(job_file, tmp_path):
    first, late = tmp_path / "first", tmp_path / "late"
    quick = ["--effort", "quick"]
    assert run("nest", job_file, *quick, "-o", first).exit_code == 0
    before = {path.name: path.read_bytes() for path in first.iterdir()}
    job_file.write_text(JOB + LATE)
    same = run("nest", job_file, *quick, "--after", first, "-o", first, "--replace")
    assert same.exit_code == 2 and "name another folder" in same.output
    result = run("nest", job_file, *quick, "--after", first, "-o", late)
    assert result.exit_code == 0, result.output
    manifest = json.loads((late / "nest.json").read_text())
    assert {piece["order"] for piece in manifest["pieces"]} == {"R-33"}
    assert [row["order"] for row in manifest["costs"]["orders"]] == ["R-33"]
    assert len(manifest["selection"]["after"]) == 1
    assert {path.name: path.read_bytes() for path in first.iterdir()} == before
    none = run("nest", job_file, *quick, "--after", first, "--after", late, "-o", tmp_path / "none")
    assert none.exit_code == 1 and none.output.count("\n") == 1 and not (tmp_path / "none").exists()
    absent = run("nest", job_file, *quick, "--after", tmp_path / "none", "-o", tmp_path / "other")
    assert absent.exit_code == 1 and absent.output.endswith("holds no result: no nest.json\n")
