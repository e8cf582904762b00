"""Spares: so many copies more of each outline of an order, and nothing else changes."""

import json
from collections import Counter

import pytest
from click.testing import CliRunner
from conftest import JOB
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.after import left_to_cut
from stripegen.cli import main
from stripegen.costs import costs_of
from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.looks import looks_of
from stripegen.marks import marked, marks_of
from stripegen.nest_groups import nest_by_order
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.readback import read_back
from stripegen.reading import lay_in_reading_order
from stripegen.recut import chosen
from stripegen.results import sheets_result
from stripegen.sheets import lay_out
from stripegen.worklist import work_list
from stripegen.workwords import order_facts, summary


def text_of(lines=None, vinyls=None, together="") -> str:
    """The job, with `spare` on some of its lines and vinyls."""
    text = JOB
    for name, spare in (lines or {}).items():
        kind = f'name   = "{name}"' if name == "edge" else f'name    = "{name}"' if name == "sash" else f'name  = "{name}"'
        assert kind in text
        text = text.replace(kind, f"{kind}\nspare = {spare}\n{together}")
    for name, spare in (vinyls or {}).items():
        text = text.replace(f"[vinyl.{name}]", f"[vinyl.{name}]\nspare = {spare}")
    return text


def made_of(text):
    return produce(parse_job(text, "week.toml", lambda kind, name: None))


counts = st.none() | st.integers(0, 3)
PLAIN = made_of(JOB)


@settings(max_examples=12)
@given(st.fixed_dictionaries({name: counts for name in ("edge", "sash", "swirl")}), st.fixed_dictionaries({"brass": counts, "ink": counts}))
def test_so_many_more_of_each_outline_of_an_order_and_nothing_else(lines, vinyls):
    lines, vinyls = ({name: n for name, n in own.items() if n is not None} for own in (lines, vinyls))
    made = made_of(text_of(lines, vinyls))
    assert [piece for piece in made.pieces if not piece.spare_no] == [*PLAIN.pieces]
    expected = Counter()
    for order, line, vinyl, points in {(p.order, p.line, p.vinyl, p.flat.cut_points) for p in PLAIN.pieces}:
        expected[order, line, vinyl, points] = lines.get(line, vinyls.get(vinyl, 0))
    spares = [piece for piece in made.pieces if piece.spare_no]
    assert Counter((p.order, p.line, p.vinyl, p.flat.cut_points) for p in spares) == +expected
    assert len({piece.id for piece in made.pieces}) == len(made.pieces)
    for piece in spares:
        assert piece.cup_no == 0 and piece.id == f"{piece.order}.spare{piece.spare_no}.{piece.name}"
    # the marks stay, and what is seen of a cup
    marks = marks_of(made.pieces)
    assert {piece.id: marks[piece.id] for piece in PLAIN.pieces} == marks_of(PLAIN.pieces)
    assert [[seen.name for seen in look.strips] for look in looks_of(made)] == [[seen.name for seen in look.strips] for look in looks_of(PLAIN)]


def test_of_strips_that_are_cut_alike_the_first_stands_for_all():
    spares = [piece.id for piece in made_of(text_of({"edge": 2})).pieces if piece.spare_no]
    assert spares == ["R-31.spare1.edge.1", "R-31.spare2.edge.1", "R-32.spare1.edge.1", "R-32.spare2.edge.1"]


def test_units_are_spared_as_a_whole():
    made = made_of(text_of({"sash": 1}, together="together = true"))
    units = {}
    for piece in made.pieces:
        if piece.unit and piece.order == "R-31":
            units.setdefault(piece.unit.id, []).append(piece)
    assert sorted(units) == [f"R-31.{cup}.sash.unit-1" for cup in (1, 2, 3, "spare1")]
    assert len({tuple(piece.flat.cut_points for piece in unit) for unit in units.values()}) == 1
    sheets = lay_out(made, "strips", lay_in_reading_order, prove)
    assert sum(len(sheet.placed) for sheet in sheets) == len(made.pieces)


def test_a_whole_pattern_together_is_spared_by_the_most_of_its_lines():
    text = text_of({"edge": 2}).replace("[pattern.regatta]", "[pattern.regatta]\ntogether = true")
    made = made_of(text)
    of_cup = Counter(piece.vinyl for piece in made.pieces if (piece.order, piece.cup_no) == ("R-31", 1))
    spares = Counter((piece.vinyl, piece.spare_no) for piece in made.pieces if piece.order == "R-31" and piece.spare_no)
    assert spares == {("brass", 1): of_cup["brass"], ("brass", 2): of_cup["brass"]}


@pytest.fixture(scope="module")
def spared():
    made = made_of(text_of({"sash": 2}, {"ink": 1}))
    sheets = lay_out(made, "strips", lay_in_reading_order, prove)
    return made, sheets, sheets_result("strips", made, sheets, None).files


def test_they_stand_in_the_manifest_the_table_and_the_key(spared):
    made, _, files = spared
    rows = {row["id"]: row for row in json.loads(files["strips.json"])["pieces"]}
    for piece in made.pieces:
        row = rows[piece.id]
        assert (row["cup_no"], row.get("spare", 0)) == (piece.cup_no or None, piece.spare_no)
    table = [line.split(",") for line in files["strips.csv"].decode().splitlines()]
    assert {row[0]: row[2] for row in table[1:]} == {
        piece.id: "spare" if piece.spare_no else str(piece.cup_no) for piece in made.pieces
    }
    owners = [owner for each in marked(made.pieces, marks_of(made.pieces)) for owner in each.owners]
    assert "R-31 sash.1 cups 1-3; sash.1 spare 1-2" in owners
    assert "R-32 edge.1-2 cup 1; edge.1 spare 1" in owners


def test_they_are_read_back_chosen_to_be_recut_and_left_out_of_a_nest_after(spared):
    made, _, files = spared
    earlier = read_back(files["strips.json"], "strips.json")
    assert [(p.id, p.cup_no, p.spare_no) for p in earlier.pieces] == [(p.id, p.cup_no, p.spare_no) for p in made.pieces]
    assert {piece.id for piece in chosen(earlier, ["R-31.spare2"])} == {"R-31.spare2.sash.1", "R-31.spare2.sash.2"}
    with pytest.raises(JobError, match="nothing is left to cut"):
        left_to_cut(made, [earlier])
    more = left_to_cut(made_of(text_of({"sash": 3}, {"ink": 1})), [earlier])
    assert {piece.id for piece in more.pieces} == {f"{order}.spare3.sash.{n}" for order in ("R-31", "R-32") for n in (1, 2)}


def test_each_order_bears_what_its_spares_cost_and_keeps_them_with_it(spared):
    made, *_ = spared
    sheets = lay_out(made, "sheet", lambda blanks, supply, progress=None: nest_by_order(blanks, supply, "quick"), prove)
    costs = costs_of(sheets, ["R-31", "R-32"])
    areas = Counter()
    for share in costs.shares:
        areas[share.order] += share.piece_area_mm2
    for order, area in areas.items():
        assert area == pytest.approx(sum(p.flat.area_mm2 for p in made.pieces if p.order == order))


def test_the_work_list_tells_them_once_and_not_among_the_cups(spared):
    made, _, _ = spared
    places = {piece.id: f"sheet-{piece.vinyl}-{2 if piece.spare_no else 1}" for piece in made.pieces}
    work = work_list(made, places)
    first, second = work.orders
    facts = dict(order_facts(first))
    assert facts["Spare"] == "2 each of sash.1 (B) and sash.2 (C) on sheet-brass-2; 1 of swirl.1 (D) on sheet-ink-2"
    assert dict(order_facts(second))["Spare"].startswith("1 each of edge.1 (E) and swirl.1 (D) on sheet-ink-2; 2 each of sash.1 ")
    assert {sheet for order in work.orders for step in order.steps for row in step.rows for sheet, _ in row.sheets} == {
        "sheet-brass-1",
        "sheet-ink-1",
    }
    assert summary(work) == f"2 orders, 4 cups, {len(made.pieces)} strips, {sum(p.spare_no > 0 for p in made.pieces)} of them spare"
    plain = work_list(PLAIN)
    assert "Spare" not in dict(order_facts(plain.orders[0])) and "spare" not in summary(plain)


def test_the_limit_of_pieces_counts_them(monkeypatch):
    monkeypatch.setattr("stripegen.production.MOST_PIECES", len(PLAIN.pieces))
    made_of(JOB)
    with pytest.raises(JobError, match=f"{len(PLAIN.pieces) + 2} pieces; a job may have {len(PLAIN.pieces)}"):
        made_of(text_of({"edge": 1}))


@pytest.mark.parametrize("spare", ["-1", "1.5", "true", "1001"])
def test_what_is_no_count(spare):
    for text in (text_of({"edge": spare}), text_of(vinyls={"ink": spare})):
        with pytest.raises(JobError, match="spare: read .*; must be a whole number from 0 to 1000"):
            made_of(text)


def test_the_commands_tell_of_them_and_the_page_shows_their_sheets(tmp_path):
    path = tmp_path / "week.toml"
    path.write_text(text_of({"sash": 1}))
    run = lambda *args: CliRunner().invoke(main, [*map(str, args)], catch_exceptions=False)
    result = run("nest", path, "-o", tmp_path / "out", "--effort", "quick")
    assert result.exit_code == 0 and ", 4 of them spare, on " in result.output
    result = run("preview", path, "-o", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert "not of these pieces" not in result.stderr
    assert run("recut", tmp_path / "out", "R-31.spare1.sash.2").exit_code == 0
