"""From a nest to the stock and back: what is kept is used next, what is gone never again."""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import JOB
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.booking import book, booked_text
from stripegen.cli import main
from stripegen.cutfile import cut_file
from stripegen.errors import NestError
from stripegen.jobfile import parse_job
from stripegen.manifest import manifest_head, sheets_manifest
from stripegen.marks import marks_of
from stripegen.nest import nest
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.sheets import lay_out
from stripegen.stockspec import parse_stock, with_stock
from stripegen.taken import read_taken

STOCK = """\
# what is in hand, counted on Monday
units = "mm"

[[roll]]
vinyl = "ink"
length_left = 1500  # measured

[[sheet]]
vinyl = "brass"
quantity = 3

# by the window
[[offcut]]
vinyl = "brass"
width = 150
length = 170
shelf = "B2"

[[offcut]]
vinyl = "brass"
width = 60
length = 170
quantity = 2
"""
LATE = '[[order]]\nid = "R-33"\ncup = "crew"\npattern = "regatta"\nvinyl = "brass"\n'


@pytest.fixture(scope="module")
def production():
    return produce(parse_job(JOB, "week.toml", lambda kind, name: None))


def sizes(offcuts) -> Counter:
    found = Counter()
    for each in offcuts:
        found[each.vinyl, round(each.width_mm, 6), round(each.length_mm, 6)] += each.quantity
    return found


@settings(max_examples=4, deadline=None)
@given(st.data())
def test_what_is_kept_is_used_next_and_what_is_gone_never_again(production, data):
    text, lines = STOCK, [line for line in STOCK.splitlines() if "#" in line]
    for number in range(4):
        stock = parse_stock(text, "stock.toml")
        job = with_stock(production.job, stock, "stock.toml")
        cups = data.draw(st.sets(st.sampled_from(["R-31.1.", "R-31.2.", "R-31.3.", "R-32.1."]), min_size=1))
        pieces = tuple(piece for piece in production.pieces if piece.id.startswith(tuple(cups)))
        now = replace(production, job=job, pieces=pieces)
        try:
            sheets = lay_out(now, "sheet", partial(nest, effort="quick"), prove)
        except NestError as error:
            assert "too little of it" in str(error)
            return
        used = Counter()
        for sheet in sheets:
            used.update((sheet.vinyl.name, round(each.width_mm, 6), round(each.length_mm, 6)) for each in sheet.offcuts)
        assert used <= sizes(stock.offcuts)
        head = manifest_head("nest", "week.toml", {"number": number}, {})
        cuts = [cut_file(sheet, job.cutter, False) for sheet in sheets]
        manifest = sheets_manifest(head, pieces, sheets, cuts, marks_of(pieces), job.cutter, ())
        taken = read_taken(manifest, "nest.json")
        made = booked_text(text, book(stock, taken))
        after = parse_stock(made, "stock.toml")
        assert not used - sizes(stock.offcuts) and not (sizes(stock.offcuts) - used) - sizes(after.offcuts)
        assert sum(e.quantity for e in stock.sheets) - sum(e.quantity for e in after.sheets) == sum(
            sheet.vinyl.name == "brass" and not sheet.offcuts for sheet in sheets
        )
        ink = [sheet.used_length_mm for sheet in sheets if sheet.vinyl.name == "ink"]
        assert 0 <= stock.rolls[0].length_mm - sum(ink) - after.rolls[0].length_mm < 0.1 * (1 + len(ink))
        assert [line.split("#")[1] for line in made.splitlines() if "#" in line] == [line.split("#")[1] for line in lines]
        text = made


def run(*args: object, **more):
    return CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False, **more)


def right(*args: object, **more) -> str:
    result = run(*args, **more)
    assert result.exit_code == 0, result.output
    return result.output


def manifest_in(folder: Path, name: str = "nest.json") -> dict:
    return json.loads((folder / name).read_text())


@pytest.fixture
def shop(tmp_path, monkeypatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "week.toml").write_text('stock = "stock.toml"\n' + JOB)
    (tmp_path / "stock.toml").write_text(STOCK)
    return tmp_path


def test_a_week_is_nested_cut_booked_recut_and_a_late_order_follows(shop):
    quick = ["--effort", "quick"]
    told = right("nest", "week.toml", *quick, "-o", "out")
    assert "take for sheet-brass-1: brass 150 x 170 mm, B2" in told.splitlines()
    assert told.splitlines()[-2:] == ["Once its sheets are cut, book them:", "  stripegen stock book out"]
    assert not (shop / "out" / "offcuts.toml").exists() and (shop / "stock.toml").read_text() == STOCK
    first = manifest_in(shop / "out")
    assert first["stock"] == "stock.toml" and first["selection"] is None
    assert [each["shelf"] for sheet in first["sheets"] for each in sheet["offcuts"]] == ["B2"]
    # not booked yet: the late order is not cut of what the week takes
    (shop / "week.toml").write_text('stock = "stock.toml"\n' + JOB + LATE)
    late = run("nest", "week.toml", *quick, "--after", "out", "-o", "late")
    assert late.exit_code == 0 and "out/nest.json is not booked in stock.toml yet" in late.output.replace("\\", "/")
    cut_of = [[each["width"] for each in sheet["offcuts"]] for sheet in manifest_in(shop / "late")["sheets"] if sheet["vinyl"] == "brass"]
    assert cut_of == [[60.0]]
    refused = right("stock", "book", "out", input="n\n")
    assert "ink: 1500 mm of the roll, then" in refused and refused.endswith("Nothing has changed.\n")
    assert (shop / "stock.toml").read_text() == STOCK
    assert "As it was before: stock.toml~" in right("stock", "book", "out", input="y\n")
    booked = (shop / "stock.toml").read_text()
    assert (shop / "stock.toml~").read_text() == STOCK and booked != STOCK
    assert "is booked in stock.toml already: nothing has changed" in right("stock", "book", "out", "--yes")
    assert (shop / "stock.toml").read_text() == booked
    again = run("nest", "week.toml", *quick, "--after", "out", "-o", "late")
    assert again.exit_code == 0 and "not booked" not in again.output and "in hand of" not in again.output
    # a spoilt strip, of the stock: the week itself left nothing over
    told = right("recut", "out", "R-31.1.edge.1", "--stock", "stock.toml")
    assert manifest_in(shop / "out", "recut.json")["sheets"][0]["offcuts"][0]["width"] == 60.0
    assert told.splitlines()[-1] == f"  stripegen stock book {Path('out') / 'recut.json'}"
    right("stock", "book", "out", "--yes")  # the one of the two that is not booked
    assert "warning: another nest of week.toml is booked already" in right("stock", "book", "late", "--yes")
    stock = parse_stock((shop / "stock.toml").read_text(), "stock.toml")
    assert sum(each.quantity for each in stock.offcuts if each.width_mm == 60 and each.length_mm == 170) == 0
    assert [each.result for each in stock.booked] == ["nest of week.toml", "recut of week.toml", "nest of week.toml"]
    listed = right("stock").splitlines()
    assert listed[-1].endswith("; 3 results booked") and listed[0].startswith("brass: 3 new sheets")


def test_some_sheets_alone_and_a_stock_that_the_booking_begins(shop):
    right("strips", "week.toml", "--stock", "stock.toml", "-o", "rows")
    names = [sheet["name"] for sheet in manifest_in(shop / "rows", "strips.json")["sheets"]]
    assert names == ["strips-brass-1", "strips-ink-1"]
    right("stock", "book", "rows", "--only", "strips-brass-1", "--stock", "new.toml", "--yes")
    text = (shop / "new.toml").read_text()
    assert 'sheets = ["strips-brass-1"]' in text and re.search(r"length = [\d.]+\nleft_of = \"strips-brass-1 \(strips of week.toml\)\"", text)
    assert "booked in new.toml already" in right("stock", "book", "rows", "--only", "strips-brass-1", "--stock", "new.toml")
    wrong = run("stock", "book", "rows", "--only", "strips-brass-3", "--stock", "new.toml")
    assert wrong.exit_code == 1 and 'did you mean "strips-brass-1"?' in wrong.output
    told = right("stock", "--stock", "new.toml", "book", "rows", "--yes")
    assert "1 sheet:" in told and "nothing that is counted there" in told
    once_more = right("stock", "book", "rows", "--again", "--yes", "--stock", "new.toml")
    left = parse_stock((shop / "new.toml").read_text(), "new.toml").offcuts[0]
    right("nest", "week.toml", "--effort", "quick", "--stock", "new.toml", "-o", "next")
    brass = [sheet for sheet in manifest_in(shop / "next")["sheets"] if sheet["vinyl"] == "brass"]
    assert [(each["width"], each["length"]) for each in brass[0]["offcuts"]] == [(left.width_mm, left.length_mm)]
    assert "2 sheets:" in once_more and (shop / "new.toml").read_text().count("[[offcut]]") == 2


def test_recut_of_what_the_nest_left_over(shop):
    (shop / "plain.toml").write_text(JOB)
    right("nest", "plain.toml", "--effort", "quick", "-o", "plain")
    (left,) = manifest_in(shop / "plain")["leftovers"]["offcuts"]
    told = right("recut", "plain", "R-31.1.edge.1")
    assert f"recut-brass-1 is cut of an offcut of 305 x {left['length']:g} mm that {Path('plain') / 'nest.json'} left over" in told
    (sheet,) = manifest_in(shop / "plain", "recut.json")["sheets"]
    assert [(each["width"], each["length"]) for each in sheet["offcuts"]] == [(305.0, left["length"])]
    assert "cut of an offcut" not in right("recut", "plain", "R-31.1.edge.1", "--new")
    (sheet,) = manifest_in(shop / "plain", "recut.json")["sheets"]
    assert sheet["offcuts"] == [] and sheet["length"] == 400.0
    both = run("stock", "book", "plain", "--yes")
    assert both.exit_code == 2 and "holds more than one result: name the one that is cut" in both.output


def test_none_left_is_told_and_offcuts_alone_may_do(shop):
    none = STOCK.replace("length_left = 1500", "length_left = 0").replace("quantity = 3", "quantity = 0")
    (shop / "stock.toml").write_text(none)
    for command in (["nest", "week.toml", "--effort", "quick", "-o", "out"], ["check", "week.toml"]):
        result = run(*command)
        assert result.exit_code == 1 and "there is too little of it" in result.output and "brass" not in result.output
    enough = none + '\n[[offcut]]\nvinyl = "ink"\nwidth = 190\nlength = 250\n'
    (shop / "stock.toml").write_text(enough)
    right("nest", "week.toml", "--effort", "quick", "-o", "out")
    assert all(sheet["offcuts"] for sheet in manifest_in(shop / "out")["sheets"])
    right("stock", "book", "out", "--yes")
    assert run("nest", "week.toml", "--effort", "quick", "-o", "out2").exit_code == 1
    rows = run("strips", "week.toml", "-o", "rows")
    assert rows.exit_code == 1 and rows.output.count("no new vinyl of it is in hand") == 2
    grouped = run("nest", "week.toml", "--group", "order", "--effort", "quick", "-o", "rows")
    assert grouped.exit_code == 1 and "there is too little of it" in grouped.output


def test_faults(shop):
    (shop / "stock.toml").unlink()
    absent = run("check", "week.toml")
    assert absent.exit_code == 1 and absent.output.count("\n") == 1
    assert absent.output.startswith('week.toml stock: read "stock.toml"; there is no such file: begin with an empty one')
    for args in (["stock"], ["stock", "book", "gone"], ["check", "week.toml", "--stock", "gone.toml"]):
        result = run(*args)
        assert result.exit_code == 1 and result.output.count("\n") == 1, result.output
    (shop / "stock.toml").write_text("[[offcut]]\nvinyl = 3\n")
    told = run("nest", "week.toml", "-o", "out")
    assert told.exit_code == 1 and told.output.splitlines()[0].startswith("stock.toml:2:1: [[offcut]] number 1 vinyl: read 3;")
    (shop / "out").mkdir()
    (shop / "out" / "nest.json").write_text("{}")
    (shop / "stock.toml").write_text("")
    for text, right_ in (("{}", "it is no manifest that"), ("{", "it is not JSON")):
        (shop / "out" / "nest.json").write_text(text)
        result = run("stock", "book", "out")
        assert result.exit_code == 1 and right_ in result.output and result.output.count("\n") == 1
