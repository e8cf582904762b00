"""A stock file read: every refusal, and what a job is cut of then."""

from __future__ import annotations

from dataclasses import replace

import pytest
from conftest import JOB

from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.spec import SheetSize
from stripegen.stock import supply_of
from stripegen.stockspec import parse_stock, unused_line, with_stock

STOCK = """
units = "cm"

[[roll]]
vinyl = "ink"
length_left = "4200 mm"

[[sheet]]
vinyl = "brass"
quantity = 3

[[sheet]]
vinyl = "brass"
width = 21
length = 29.7
quantity = 2

[[offcut]]
vinyl = "brass"
width = 12
length = "8 1/4 in"
shelf = "B2"

[[offcut]]
vinyl = "brass"
width = 3
length = 20
quantity = 0

[[offcut]]
vinyl = "teal"
width = 3
length = 20
"""


def job_of(text: str = JOB):
    return parse_job(text, "week.toml", lambda kind, name: None)


def told(text: str, job: str | None = None) -> str:
    with pytest.raises(JobError) as error:
        stock = parse_stock(text, "stock.toml")
        with_stock(job_of(job or JOB), stock, "stock.toml")
    return str(error.value)


def test_what_is_in_hand_takes_the_place_of_what_the_job_says():
    stock = parse_stock(STOCK, "stock.toml")
    sized = JOB.replace("length = 400\n", "length = 400\nquantity = 9\nsizes = [ { width = 210, length = 297 }, { width = 90, length = 90 } ]\n")
    job = with_stock(job_of(sized), stock, "stock.toml")
    assert job.stock == "stock.toml" and job.vinyls["ink"].length_left_mm == 4200
    brass = job.vinyls["brass"]
    assert brass.quantity == 3 and set(brass.sizes) == {SheetSize(90, 90), SheetSize(210, 297, 2)}
    (offcut,) = job.offcuts  # none of no pieces, and none of vinyl that the job lacks
    assert (offcut.vinyl, offcut.width_mm, offcut.length_mm, offcut.quantity, offcut.shelf) == ("brass", 120, 209.55, 1, "B2")
    again = with_stock(job, replace(stock, offcuts=()), "stock.toml")
    assert again.offcuts == () and again.vinyls == job.vinyls


def test_an_empty_file_changes_nothing():
    job = job_of()
    assert replace(with_stock(job, parse_stock("# none yet\n", "stock.toml"), "stock.toml"), stock=None) == job


def test_the_job_may_name_its_stock():
    assert job_of('stock = "../stock.toml"\n' + JOB).stock == "../stock.toml" and job_of().stock is None
    for wrong in ("3", '""', '["a"]', '"a\\nb"'):
        with pytest.raises(JobError, match="stock: read .*; must be the name of a file, by its place beside the job file"):
            job_of(f"stock = {wrong}\n{JOB}")


@pytest.mark.parametrize("left", ["0", "10"])
def test_of_a_roll_that_is_used_up_nothing_new_is_cut(left):
    job = with_stock(job_of(), parse_stock(f'[[roll]]\nvinyl = "ink"\nlength_left = {left}\n', "stock.toml"), "s")
    (lot,) = supply_of(job.vinyls["ink"]).lots
    assert lot.quantity == 0 and lot.stock.length_mm is None


def test_offcuts_that_are_all_margin_stay_on_their_shelf():
    text = '[[offcut]]\nvinyl = "brass"\nwidth = 300\nlength = 10\n[[offcut]]\nvinyl = "brass"\nwidth = 11\nlength = 12\n'
    assert [each.width_mm for each in with_stock(job_of(), parse_stock(text, "stock.toml"), "s").offcuts] == [11]
    weeded = JOB.replace("length = 400\n", "length = 400\nweed = true\n")  # whose frame takes a gap more
    assert with_stock(job_of(weeded), parse_stock(text, "stock.toml"), "s").offcuts == ()


def test_vinyl_that_the_job_lacks_is_told_with_a_guess_at_slips():
    stock = parse_stock(STOCK + '[[roll]]\nvinyl = "bras"\nlength_left = 3\n', "stock.toml")
    line = 'stock.toml holds vinyl that the job does not use: bras (did you mean "brass"?), teal'
    assert unused_line(job_of(), stock) == line
    assert unused_line(job_of(), parse_stock("", "stock.toml")) is None


ROLL, SHEET, OFFCUT = ('[[roll]]\nvinyl = "ink"\nlength_left = 90\n', '[[sheet]]\nvinyl = "brass"\nquantity = 2\n',
                       '[[offcut]]\nvinyl = "brass"\nwidth = 90\nlength = 80\n')  # fmt: skip


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("unit = 'mm'", 'stock.toml:1:1: unit: is not a key of this table; did you mean "units"?'),
        ("units = 'ft'", 'stock.toml:1:1: units: read "ft"; must be one of'),
        ("[roll]\nvinyl = 'ink'", "roll: read { vinyl = \"ink\" }; must be written [[roll]], with two brackets"),
        ("offcut = 3", "offcut: read 3; must be written [[offcut]], with two brackets"),
        ("[[roll]]\n", "[[roll]] number 1 vinyl: is missing"),
        (ROLL.replace("90", "-1"), "[[roll]] number 1 length_left: read -1; must be a length of 0 or more"),
        (ROLL * 2, '[[roll]] number 2 vinyl: read "ink"; has one roll already'),
        (ROLL.replace("ink", "brass"), 'number 1 vinyl: read "brass"; week.toml has it in sheets 400 mm long: a [[sheet]]'),
        (SHEET * 2, '[[sheet]] number 2 vinyl: read "brass"; has sheets of this size already'),
        (SHEET + SHEET + "width = 305\nlength = 400\n", 'number 2 vinyl: read "brass"; [[sheet]] number 1 has sheets of this size'),
        (SHEET.replace("brass", "ink"), 'number 1 vinyl: read "ink"; week.toml has it as a roll'),
        (SHEET + "width = 30\n", "[[sheet]] number 1: has one of width and length: give both"),
        (SHEET + "width = 30\nlength = 10\n", "[[sheet]] number 1: read 30 x 10 mm; must be more than its two margins of 5 mm"),
        (SHEET.replace("2", "-2"), "quantity: read -2; must be a whole number from 0 to 1000"),
        (SHEET.replace("quantity = 2\n", ""), "[[sheet]] number 1 quantity: is missing"),
        (OFFCUT + "quantity = 1.0", "quantity: read 1.0; must be a whole number from 0"),
        (OFFCUT + "quantity = true", "quantity: read true; must be a whole number from 0"),
        (OFFCUT + 'shelf = "a\\nb"', "shelf: read \"a\\u000ab\"; must be one line of text"),
        (OFFCUT + "shelve = 'B2'", 'number 1 shelve: is not a key of this table; did you mean "shelf"?'),
        (OFFCUT.replace("90", "0"), "width: read 0; must be a length above 0"),
        ("[[booked]]\nmanifest = 'abc'", "[[booked]] number 1 manifest: read \"abc\"; must be 64 digits and letters"),
        ("[[booked", "is not TOML"),
    ],
)
def test_refusals(text, right):
    assert right in told(text)


def test_a_job_with_a_stock_has_no_offcuts_of_its_own():
    own = '[[offcut]]\nvinyl = "brass"\nwidth = 120\nlength = 300\n'
    assert told("", JOB + own) == (
        "week.toml:59:1: [[offcut]] number 1: a job with a stock file has no offcuts of its own: move them into stock.toml"
    )
