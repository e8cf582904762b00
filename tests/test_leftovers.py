"""What is left over: nothing is lost or won, and it can be pasted into the next job."""

from __future__ import annotations

import json
import math
import tomllib
from functools import partial

import pytest
from conftest import JOB
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.jobfile import parse_job
from stripegen.layout import kept_mm
from stripegen.leftovers import leftovers, leftovers_toml
from stripegen.nest import nest
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.results import sheets_result
from stripegen.sheets import lay_out

HAND = """
[[offcut]]
vinyl = "brass"
width = 140
length = 60
quantity = 2

[[offcut]]
vinyl = "brass"
width = 150
length = 90.25

[[offcut]]
vinyl = "ink"
width = 20
length = "1.234567 in"
"""


def made(text: str):
    production = produce(parse_job(text, "week.toml", lambda kind, name: None))
    sheets = lay_out(production, "sheet", partial(nest, effort="quick"), prove)
    return production, sheets, leftovers(production.job, sheets)


def area(offcuts) -> float:
    return math.fsum(offcut.width_mm * offcut.length_mm * offcut.quantity for offcut in offcuts)


def next_job(text: str, left) -> str:
    """The same job with what is left in place of its own offcuts."""
    return text.partition("[[offcut]]")[0] + leftovers_toml(left)


def test_what_is_left_over_can_be_pasted_back():
    production, _, left = made(JOB + HAND)
    again = parse_job(next_job(JOB + HAND, left), "next.toml", lambda kind, name: None)
    assert again.offcuts == left.offcuts
    centimetres = next_job('units = "cm"\n' + JOB, left)
    assert parse_job(centimetres, "next.toml", lambda kind, name: None).offcuts == left.offcuts
    assert left.offcuts != production.job.offcuts


@settings(max_examples=15, deadline=None)
@given(
    st.lists(st.tuples(st.integers(14, 300), st.integers(14, 200), st.integers(1, 3)), max_size=4),
    st.sampled_from(["length = 400", "length = 160", "length_left = 900"]),
)
def test_no_vinyl_is_won_and_what_is_lost_is_used_or_too_short_to_keep(offcuts, length):
    hand = "".join(
        f'[[offcut]]\nvinyl = "brass"\nwidth = {width}\nlength = {long}\nquantity = {n}\n' for width, long, n in offcuts
    )
    text = JOB.replace("length = 400", length).replace("quantity = 3", "quantity = 2")
    production, sheets, left = made(text + hand)
    brass = [sheet for sheet in sheets if sheet.vinyl.name == "brass"]
    bought = math.fsum(sheet.width_mm * sheet.length_mm for sheet in brass if not sheet.offcuts)
    used = math.fsum(
        offcut.width_mm * offcut.used_length_mm for sheet in brass for offcut in sheet.offcuts
    ) + math.fsum(sheet.width_mm * sheet.used_length_mm for sheet in brass if not sheet.offcuts)
    ends = math.fsum(30.1 * sheet.width_mm for sheet in brass)
    kept = area(left.offcuts)
    had = area(production.job.offcuts)
    assert had + bought - used - ends <= kept <= had + bought - used + 1e-6
    assert all(offcut.length_mm == round(offcut.length_mm, 1) >= 14 for offcut in left.offcuts)
    assert parse_job(next_job(text, left), "next.toml", lambda kind, name: None).offcuts == left.offcuts
    if "left" in length:
        rolls = math.fsum(sheet.used_length_mm for sheet in brass if not sheet.offcuts)
        assert left.lengths_left_mm["brass"] == pytest.approx(900 - rolls, abs=0.1)
        assert left.lengths_left_mm["brass"] <= 900 - rolls + 1e-6


def test_unused_offcuts_stay_as_they_are_of_vinyls_that_are_not_cut_too():
    spare = '[vinyl.spare]\ncolour = "#fff"\nwidth = 100\n'
    hand = '[[offcut]]\nvinyl = "spare"\nwidth = "12.3456 mm"\nlength = 50\nquantity = 4\n'
    _, sheets, left = made(JOB + spare + hand)
    assert all(sheet.vinyl.name != "spare" for sheet in sheets)
    (spare_left,) = [offcut for offcut in left.offcuts if offcut.vinyl == "spare"]
    assert (spare_left.width_mm, spare_left.length_mm, spare_left.quantity) == (12.3456, 50, 4)
    assert 'width = "12.3456 mm"' in leftovers_toml(left)


def test_the_rest_of_a_sheet_is_kept_from_20_mm_between_its_margins():
    _, sheets, left = made(JOB)
    (brass,) = [sheet for sheet in sheets if sheet.vinyl.name == "brass"]
    (kept,) = left.offcuts
    assert (kept.vinyl, kept.width_mm, kept.quantity) == ("brass", 305, 1)
    assert 0 <= 400 - brass.used_length_mm - kept.length_mm < 0.1
    for more, rest in ((30.0, 30.0), (29.9, 0.0)):
        assert kept_mm(brass.used_length_mm + more, brass.used_length_mm, 5.0) == pytest.approx(rest)


def test_they_are_told_in_summary_file_and_manifest():
    text = (JOB + HAND).replace("width  = 200", "width  = 200\nlength_left = 900")
    production, sheets, left = made(text)
    result = sheets_result("nest", production, sheets, None)
    manifest = json.loads(result.files["nest.json"])
    tables = tomllib.loads(result.files["offcuts.toml"].decode())["offcut"]
    assert "offcuts.toml" in manifest["files"]
    assert len(tables) == len(manifest["leftovers"]["offcuts"]) == len(left.offcuts)
    for table, row in zip(tables, manifest["leftovers"]["offcuts"], strict=True):
        assert (table["vinyl"], table["quantity"]) == (row["vinyl"], row["quantity"])
        for key in ("width", "length"):
            assert float(table[key].removesuffix(" mm")) == pytest.approx(row[key], abs=1e-6)
    ((name, rest),) = [(row["vinyl"], row["length_left"]) for row in manifest["leftovers"]["rolls"]]
    used = sum(sheet.used_length_mm for sheet in sheets if sheet.vinyl.name == "ink")
    assert name == "ink" and 0 <= 900 - used - rest < 0.1
    assert f'# Of the roll, in [vinyl.ink]: length_left = "{rest:.1f} mm"' in result.files["offcuts.toml"].decode()
    rows = sheets_result("strips", production, sheets, None)
    assert "offcuts.toml" not in rows.files and "leftovers" not in json.loads(rows.files["strips.json"])


def test_where_nothing_is_left_there_is_no_file():
    production, sheets, left = made(JOB.replace("length = 400\n", ""))
    assert left.offcuts == () and left.lengths_left_mm == {}
    assert "offcuts.toml" not in sheets_result("nest", production, sheets, None).files
