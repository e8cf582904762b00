"""What to load into the cutter: vinyl by vinyl, offcuts first; what is told adds up to the sheets."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st
from test_costs import ROLL, SHEETS, sheet_of

from stripegen import loading
from stripegen.columns import plain_lines
from stripegen.costs import costs_of
from stripegen.leftovers import Leftovers
from stripegen.loading import in_loading_order, load_of, load_rows, load_table, summary, takes
from stripegen.sheets import OffcutPlace
from stripegen.spec import Offcut

OFFCUT = OffcutPlace(0.0, 0.0, 305.0, 400.0, 90.0)


def some(name, vinyl, used_mm=100.0, offcuts=()):
    return replace(sheet_of(name, vinyl, used_mm, [("A", 500.0)]), offcuts=tuple(offcuts))


@st.composite
def sheets(draw):
    found = []
    for number in range(draw(st.integers(1, 12))):
        vinyl = draw(st.sampled_from([ROLL, SHEETS, replace(SHEETS, name="tin"), replace(ROLL, name="slate")]))
        offcuts = [OFFCUT] * draw(st.integers(0, 2)) if vinyl.length_mm else []
        found.append(some(f"sheet-{vinyl.name}-{number}", vinyl, float(draw(st.integers(20, 390))), offcuts))
    return found


@given(sheets())
def test_one_vinyl_after_the_other_and_its_offcuts_first(made):
    ordered = in_loading_order(made)
    assert sorted(sheet.name for sheet in ordered) == sorted(sheet.name for sheet in made)
    vinyls = [sheet.vinyl.name for sheet in ordered]
    assert len(set(vinyls)) == 1 + sum(a != b for a, b in pairwise(vinyls))
    for name in set(vinyls):
        own = [bool(sheet.offcuts) for sheet in ordered if sheet.vinyl.name == name]
        assert own == sorted(own, reverse=True)
    assert [row["sheet"] for row in load_rows(made)] == [sheet.name for sheet in ordered]


@given(sheets(), st.integers(0, 12))
def test_the_table_tells_every_sheet_once_however_short_it_is(made, most):
    before = loading.MOST_LOADS
    loading.MOST_LOADS = most
    try:
        table = load_table(made)
    finally:
        loading.MOST_LOADS = before
    numbers = [tuple(map(int, row[0].split(" to "))) for row in table.rows]
    assert [first for first, *_ in numbers] == [1, *(last + 1 for *_, last in numbers[:-1])]
    assert numbers[-1][-1] == len(made)
    assert sum(int(row[4]) for row in table.rows) == sum(len(sheet.placed) for sheet in made)
    runs = sum(float(row[3]) for row in table.rows)
    assert abs(runs - sum(sheet.used_length_mm for sheet in made)) < 0.06 * len(made)
    if len(made) <= most:
        assert [row[1] for row in table.rows] == [sheet.name for sheet in in_loading_order(made)]


@given(sheets())
def test_what_is_taken_of_each_vinyl_adds_up(made):
    told = dict(each.split(" ", 1) for each in takes(made))
    for name, text in told.items():
        own = [sheet for sheet in made if sheet.vinyl.name == name]
        offcuts = sum(int(number) for number in re.findall(r"(\d+) offcut", text))
        assert offcuts == sum(len(sheet.offcuts) for sheet in own)
        news = [sheet for sheet in own if not sheet.offcuts]
        if own[0].vinyl.length_mm:
            assert sum(int(number) for number in re.findall(r"(\d+) sheet", text)) == len(news)
        else:
            assert float(re.search(r"([\d.]+) mm of the roll", text)[1]) == sum(sheet.used_length_mm for sheet in news)


def test_what_is_put_into_the_cutter():
    assert load_of(some("s", ROLL)) == "ink: the roll, 200 mm wide"
    assert load_of(some("s", SHEETS)) == "brass: a sheet of 305 x 400 mm"
    assert load_of(some("s", replace(SHEETS, cut_from_back=True))) == "brass: a sheet of 305 x 400 mm, face down"
    assert load_of(some("s", SHEETS, 90.0, [OFFCUT])) == "brass: an offcut of 305 x 400 mm"
    small = replace(OFFCUT, width_mm=120.0, length_mm=200.0)
    assert load_of(some("s", SHEETS, 90.0, [small])) == "brass: the mat with 1 offcut"
    assert load_of(some("s", SHEETS, 90.0, [small, small])) == "brass: the mat with 2 offcuts"


def test_the_summary_says_what_it_costs_and_what_to_keep():
    made = [some("sheet-brass-1", replace(SHEETS, price_sheet=3.2)), some("sheet-ink-1", ROLL, 150.0)]
    costs = costs_of(made, ["A"])
    left = Leftovers(tuple(Offcut(vinyl="brass", width_mm=305.0, length_mm=200.0 + n, quantity=1 + n) for n in range(6)), {"ink": 410.5})
    lines = plain_lines(summary(made, costs, left))
    assert lines[0].startswith("Load the cutter in this order")
    assert "Vinyl: brass 1 sheet of 305 x 400 mm; ink 150.0 mm of the roll." in lines
    assert "Cost of the vinyl: 3.20, without ink, which has no price." in lines
    assert lines[-2].startswith("Keep for later: brass 305 x 200 mm, 2 x brass 305 x 201 mm, ") and "2 sizes more" in lines[-2]
    assert lines[-1] == "Left of the roll: ink 410.5 mm."
    assert "Cost of the vinyl: not known, since none has a price." in plain_lines(summary(made[1:], costs_of(made[1:], ["A"])))
    assert not [line for line in plain_lines(summary(made)) if "Cost" in line or "Keep" in line]


def test_rows_name_the_files_of_a_sheet_alone():
    made = [some("sheet-ink-1", ROLL), some("sheet-ink-11", ROLL)]
    names = ["sheet-ink-1.svg", "sheet-ink-1-key.pdf", "sheet-ink-11.svg", "sheet-ink-1-pen.svg", "nest.csv", "sheet-all.pdf"]
    first, second = load_rows(made, names)
    assert first["files"] == ["sheet-ink-1.svg", "sheet-ink-1-key.pdf", "sheet-ink-1-pen.svg"]
    assert second["files"] == ["sheet-ink-11.svg"]
