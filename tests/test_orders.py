"""Some of a job's orders alone: the pieces that they have in the whole job, and no other's."""

from __future__ import annotations

import datetime
import json
import re

import pytest
from click.testing import CliRunner
from conftest import JOB
from hypothesis import given
from hypothesis import strategies as st

from stripegen.cli import main
from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.orders import Chosen, job_of_orders, orders_due, parse_due
from stripegen.production import produce

ORDER = '[[order]]\nid = "{}"\ncup = "crew"\npattern = "regatta"\nvinyl = "{}"\n'
DUES = {"A-1": "2027-06-14", "A-2": None, "B-1": "2027-06-18", "B-2": "2027-06-20", "C-1": "2027-06-21"}
WEEK = JOB.partition("[[order]]")[0] + "".join(
    ORDER.format(name, "brass" if name != "C-1" else "ink") + (f"due = {due}\n" if due else "") for name, due in DUES.items()
)
days = st.dates(datetime.date(2020, 1, 1), datetime.date(2035, 12, 31))


def job():
    return parse_job(WEEK, "week.toml", lambda kind, name: None)


def run(*args: object):
    return CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False)


@pytest.fixture
def week_file(tmp_path):
    path = tmp_path / "week.toml"
    path.write_text(WEEK, encoding="utf-8")
    return path


@given(st.sets(st.sampled_from(sorted(DUES)), min_size=1))
def test_orders_alone_keep_their_order_and_all_else(ids):
    whole, some = job(), job_of_orders(job(), ids)
    assert [order for order in whole.orders if order.id in ids] == list(some.orders)
    assert (some.vinyls, some.cutter, some.offcuts, some.own_vinyls) == (whole.vinyls, whole.cutter, whole.offcuts, whole.own_vinyls)


def test_pieces_of_orders_alone_are_those_of_the_whole_job():
    whole = {piece.id: piece.flat.cut_points for piece in produce(job()).pieces}
    some = {piece.id: piece.flat.cut_points for piece in produce(job_of_orders(job(), ["B-2", "A-1"])).pieces}
    assert some == {name: points for name, points in whole.items() if name.startswith(("A-1.", "B-2."))}
    assert [*dict.fromkeys(name.partition(".")[0] for name in some)] == ["A-1", "B-2"]


def test_cups_and_patterns_are_those_of_the_orders():
    twice = WEEK + '[cup.other]\nrim = { diameter = 80 }\nbase = { diameter = 60 }\nheight = 100\n'
    twice += ORDER.format("D-1", "ink").replace("crew", "other")
    whole = parse_job(twice, "week.toml", lambda kind, name: None)
    assert set(job_of_orders(whole, ["D-1"]).cups) == {"other"} and set(job_of_orders(whole, ["A-1"]).cups) == {"crew"}


@given(days, days)
def test_orders_are_due_between_two_days_or_not(first, last):
    first, last = sorted((first, last))
    dues = {name: due and datetime.date.fromisoformat(due) for name, due in DUES.items()}
    assert orders_due(job(), first, last) == [name for name, due in dues.items() if due and not (due < first or due > last)]


@given(days, days)
def test_days_and_weeks_are_read(day, other):
    first, last = sorted((day, other))
    assert parse_due(str(day)) == (day, day)
    assert parse_due(f"{first}..{last}") == (first, last)
    year, week, _ = day.isocalendar()
    monday, sunday = parse_due(f"{year}-W{week:02}")
    assert monday <= day <= sunday and monday.isoweekday() == 1 and (sunday - monday).days == 6
    assert parse_due(f"{year}-W{week:02}..{sunday}") == (monday, sunday)
    if first != last:
        with pytest.raises(ValueError, match="must not be after"):
            parse_due(f"{last}..{first}")


@given(st.text(max_size=12) | st.from_regex(r"[0-9]{4}-W?[0-9]{2}(-[0-9]{2})?(\.\.)?", fullmatch=True))
def test_any_other_text_is_refused_in_a_line(text):
    try:
        first, last = parse_due(text)
    except ValueError as error:
        assert "\n" not in str(error)
    else:
        assert first <= last


@pytest.mark.parametrize("text", ["2027-02-30", "2027-W54", "2027-W00", "0000-W01", "27-06-14", "2027-W2", "2027-06-14..", "", "W31"])
def test_what_is_no_day_is_refused(text):
    with pytest.raises(ValueError):
        parse_due(text)


def test_both_take_what_is_in_both():
    due = parse_due("2027-W24")
    assert [order.id for order in Chosen(due=due).of(job()).orders] == ["A-1", "B-1", "B-2"]
    assert [order.id for order in Chosen(("B-2", "C-1"), due).of(job()).orders] == ["B-2"]
    with pytest.raises(JobError, match="none of those orders is due then; they are due from 2027-06-21 to 2027-06-21"):
        Chosen(("C-1",), due).of(job())
    with pytest.raises(JobError, match="none has a due date"):
        Chosen(("A-2",), due).of(job())


@pytest.mark.parametrize("command", ["strips", "nest", "preview", "guide"])
def test_commands_take_them(command, week_file, tmp_path):
    out = tmp_path / "out"
    result = run(command, week_file, "--only", "B-1", "--only", "A-2", "-o", out)
    assert result.exit_code == 0, result.output
    manifest = json.loads((out / f"{command}.json").read_text())
    assert manifest["job"] == "week.toml" and manifest["selection"] == {"only": ["A-2", "B-1"], "due": None}
    if "pieces" in manifest:
        assert {piece["order"] for piece in manifest["pieces"]} == {"A-2", "B-1"}
    if command == "guide":
        assert sorted(name for name in manifest["files"] if name.startswith("guide-")) == ["guide-A-2.pdf"]


def test_a_guide_of_one_order_tells_its_sheets_from_the_nest_of_all(week_file, tmp_path):
    out = tmp_path / "out"
    assert run("nest", week_file, "--effort", "quick", "-o", out).exit_code == 0
    result = run("guide", week_file, "--only", "C-1", "-o", out)
    assert result.exit_code == 0 and "warning: the nest" not in result.output
    text = (out / "work-list.html").read_text()
    assert "sheet-ink-1" in text and "sheet-brass-1" not in text


def test_check_takes_them(week_file):
    assert "3 orders, 3 cups" in run("check", week_file, "--due", "2027-W24").output


def test_another_selection_is_kept(week_file, tmp_path):
    out = tmp_path / "out"
    assert run("strips", week_file, "--due", "2027-06-14..2027-06-18", "-o", out).exit_code == 0
    assert run("strips", week_file, "--due", "2027-06-14..2027-06-18", "-o", out).exit_code == 0
    for args in ([], ["--only", "A-1"], ["--due", "2027-06-14"]):
        refused = run("strips", week_file, *args, "-o", out)
        assert refused.exit_code == 1 and "a selection of week.toml" in refused.output and refused.output.count("\n") == 1
    assert run("strips", week_file, "--only", "A-1", "-o", out, "--replace").exit_code == 0
    assert {row["order"] for row in json.loads((out / "strips.json").read_text())["pieces"]} == {"A-1"}


@pytest.mark.parametrize(
    "args, status, told",
    [
        (["--only", "A1"], 1, r'week\.toml --only: read "A1"; no order of the job has this id; did you mean "A-1"\?\n'),
        (["--due", "2028-W01"], 1, r"week\.toml --due: read 2028-01-03\.\.2028-01-09; none of its orders is due then; .*\n"),
        (["--due", "next week"], 2, r'.*--due: read "next week"; must be a day such as .*'),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told(args, status, told, week_file, tmp_path):
    result = run("strips", week_file, *args, "-o", tmp_path / "out")
    assert result.exit_code == status and re.fullmatch(told, result.output, re.DOTALL), result.output
    assert not (tmp_path / "out").exists()


def test_they_need_a_job_file(tmp_path):
    preset = ["--cup", "tall-tapered", "--pattern", "seam-stripes", "--vinyl", "matt-black"]
    result = run("strips", *preset, "--only", "one", "-o", tmp_path / "out")
    assert result.exit_code == 2 and "of a JOB file" in result.output
