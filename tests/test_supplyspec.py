"""What of a vinyl is in hand, as a job file says it; every refusal."""

from __future__ import annotations

import pytest
from test_jobfile import JOB, parse, told

from stripegen.spec import Cutter, Offcut, SheetSize

OFFCUT = '[[offcut]]\nvinyl = "brass"\nwidth = 305\nlength = 120\n'


def with_vinyl(more: str) -> str:
    return JOB.replace("width = 305\n", f"width = 305\n{more}\n", 1)


def test_offcuts():
    job = parse(JOB + OFFCUT + OFFCUT.replace("305", '"6 in"').replace('"brass"', '"teal"') + "quantity = 3\n")
    assert job.offcuts == (
        Offcut(vinyl="brass", width_mm=305, length_mm=120),
        Offcut(vinyl="teal", width_mm=152.4, length_mm=120, quantity=3),
    )
    assert "teal" in job.vinyls  # a preset that no order names
    assert parse(JOB).offcuts == ()
    assert parse('units = "cm"\n' + JOB + OFFCUT).offcuts[0].length_mm == 1200


def test_sheets_and_rolls_in_hand():
    vinyl = parse(with_vinyl("length = 610\nquantity = 4\nsizes = [ { width = 200, length = 300 }, { width = 610, length = 610, quantity = 2 } ]")).vinyls["brass"]  # fmt: skip
    assert vinyl.quantity == 4
    assert vinyl.sizes == (SheetSize(200, 300), SheetSize(610, 610, 2))
    assert parse(with_vinyl("length_left = 25000")).vinyls["brass"].length_left_mm == 25_000
    plain = parse(JOB).vinyls["brass"]
    assert (plain.quantity, plain.sizes, plain.length_left_mm) == (None, (), None)


def test_a_mat():
    job = parse(JOB + "[cutter]\ncut_width = 300\nmat = { width = 300, length = 280 }\n")
    assert job.cutter == Cutter(cut_width_mm=300, mat_mm=(300, 280))


@pytest.mark.parametrize(
    ("text", "right"),
    [
        (OFFCUT.replace("brass", "bras"), 'number 1 vinyl: read "bras"; there is no such vinyl in the job nor among the presets; did you mean "brass"?'),
        (OFFCUT.replace('vinyl = "brass"\n', ""), "number 1 vinyl: is missing"),
        (OFFCUT.replace('"brass"', "3"), "number 1 vinyl: read 3; must be a name"),
        (OFFCUT + OFFCUT.replace("120", "10"), "number 2 length: read 10; must be more than its two margins of 5 mm"),
        (OFFCUT.replace("305", "9"), "number 1 width: read 9; must be more than its two margins of 5 mm"),
        (OFFCUT.replace("305", "-9"), "number 1 width: read -9; must be a length above 0"),
        (OFFCUT.replace("length = 120\n", ""), "number 1 length: is missing"),
        (OFFCUT + "quantity = -1", "number 1 quantity: read -1; must be a whole number from 1 to 1000"),
        (OFFCUT + "quantity = 1001", "number 1 quantity: read 1001; must be a whole number from 1 to 1000"),
        (OFFCUT + "quantity = 1.5", "number 1 quantity: read 1.5; must be a whole number"),
        (OFFCUT + "lenght = 3", 'number 1 lenght: is not a key of this table; did you mean "length"?'),
        ("[offcut]\nvinyl = 'brass'", " offcut: read { vinyl = \"brass\" }; must be written [[offcut]]"),
        (OFFCUT * 1001, " offcut: read 1001 offcuts; must be at most 1000 offcuts"),
    ],
)  # fmt: skip
def test_refusals_of_offcuts(text, right):
    assert right in told(JOB + text)


@pytest.mark.parametrize(
    ("more", "right"),
    [
        ("length_left = 10", "length_left: read 10; must be more than its two margins of 5 mm"),
        ("length_left = -1", "length_left: read -1; must be a length above 0"),
        ("length_left = '1001 in'\nlength = 300", "length_left: read \"1001 in\"; is for a roll"),
        ("length_left = 2e6", "length_left: read 2000000.0; no length may be above 1000 m"),
        ("quantity = 2", "quantity: read 2; is for sheets: give their length, or of a roll its length_left"),
        ("length = 300\nquantity = 0", "quantity: read 0; must be a whole number from 1"),
        ("sizes = [ { width = 20, length = 30 } ]", "sizes: read [{ width = 20, length = 30 }]; is for sheets"),
        ("length = 300\nsizes = [ { width = 20, length = 9 } ]", "sizes number 1, length: read 9; must be more than its two"),
        ("length = 300\nsizes = [ { width = 20 } ]", "sizes number 1, length: is missing"),
        ("length = 300\nsizes = [ { width = 20, length = 30, quantity = 0 } ]", "sizes number 1, quantity: read 0"),
        ("length = 300\nsizes = { width = 20, length = 30 }", "sizes: read { width = 20, length = 30 }; must be a list of"),
        ("length = 300\nsizes = [ { width = 20, length = 30, price = 3 } ]", "sizes number 1, price: is not a key"),
    ],
)
def test_refusals_of_vinyls(more, right):
    assert "[vinyl.brass] " + right in told(with_vinyl(more))


@pytest.mark.parametrize(
    ("more", "right"),
    [
        ("mat = 300", "mat: read 300; must be a table such as { width = 300, length = 300 }"),
        ("mat = { width = 300 }", "mat.length: is missing"),
        ("mat = { width = 0, length = 3 }", "mat.width: read 0; must be a length above 0"),
        ("cut_width = 290\nmat = { width = 300, length = 300 }", "mat.width: read 300; must be at most the cut_width of 290 mm"),
        ("longest_run = 290\nmat = { width = 300, length = 300 }", "mat.length: read 300; must be at most the longest_run of 290"),
        ("mat = { width = 300, length = 300, depth = 3 }", "mat.depth: is not a key of this table"),
    ],
)
def test_refusals_of_mats(more, right):
    assert "[cutter] " + right in told(JOB + "[cutter]\n" + more)
