"""A result booked: no vinyl is won or lost but what is used or told as too short; no count below 0; no comment lost."""

from __future__ import annotations

import math
import re
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.booking import book, booked_text, unbooked
from stripegen.errors import JobError, WriteError
from stripegen.stockspec import parse_stock
from stripegen.stocktext import StockText
from stripegen.taken import SheetTaken, Taken, Used

MARGIN_MM = 5.0
SIZES = {"tin": (305.0, 610.0), "ink": (200.0, None)}  # as bought
COMMENTS = st.sampled_from(["", "", "# from the spring order", "# [[offcut]] no table", "", ""])
SHA = "0123456789abcdef" * 4


def entry(kind: str, vinyl: str, *lines: str, head: str = "", tail: str = "") -> str:
    body = [f"[[{kind}]]  {tail}".rstrip(), f'vinyl = "{vinyl}"', *lines]
    return "\n".join([*([head] if head else []), *body, ""])


@st.composite
def stocks(draw) -> str:
    """Stock files as a maker might have them, of two vinyls."""
    offcut = st.builds(
        lambda vinyl, width, length, quantity, shelf, head, tail, note: entry(
            "offcut", vinyl, f"width = {width}", f"length = {length} {note}".rstrip(), *quantity, *shelf, head=head, tail=tail
        ),
        st.sampled_from(["tin", "ink"]),
        st.sampled_from([60, 120.5, 300]),
        st.sampled_from([45, 80, 200.25]),
        st.sampled_from([[], ["quantity = 1"], ["quantity = 3"], ["quantity = 0"]]),
        st.sampled_from([[], ['shelf = "B2"'], ['"shelf" = "C1"  # top']]),
        COMMENTS, COMMENTS, COMMENTS,
    )  # fmt: skip
    parts = draw(st.lists(offcut, max_size=4))
    if draw(st.booleans()):
        parts.append(entry("roll", "ink", f"length_left = {draw(st.sampled_from([900, 0, 421.7]))} {draw(COMMENTS)}"))
    if draw(st.booleans()):
        parts.append(entry("sheet", "tin", f"quantity = {draw(st.integers(0, 3))}"))
    if draw(st.booleans()):
        parts.append(entry("sheet", "tin", "width = 210", "length = 297", f"quantity = {draw(st.integers(0, 2))}"))
    text = draw(st.sampled_from(['units = "mm"\n', "", "# my vinyl\n\n"])) + "\n".join(draw(st.permutations(parts)))
    return text.replace("\n", draw(st.sampled_from(["\n", "\r\n"])))


@st.composite
def results(draw, stock, number_of_it: int) -> Taken:
    """What a nest of this stock might take: some of its offcuts, sheets and roll, never more than there is."""
    sheets, number = [], 0

    def used(width, length, shelf=""):
        part = draw(st.sampled_from([0.3, 0.61, 0.95, 1.0]))
        return Used(width, length, round(length * part, 4), shelf)

    def add(vinyl, pieces, is_new):
        nonlocal number
        number += 1
        sheets.append(SheetTaken(f"sheet-{vinyl}-{number}", vinyl, MARGIN_MM, SIZES[vinyl], tuple(pieces), is_new))

    for each in stock.offcuts:
        for _ in range(draw(st.integers(0, each.quantity))):
            add(each.vinyl, [used(each.width_mm, each.length_mm, each.shelf)], False)
    tins = {(e.width_mm or 305.0, e.length_mm or 610.0): e.quantity for e in stock.sheets}
    for size in ((305.0, 610.0), (210.0, 297.0)):
        for _ in range(draw(st.integers(0, min(2, tins.get(size, 2))))):
            add("tin", [used(*size)], True)
    left_mm = next((roll.length_mm for roll in stock.rolls), 5000.0)
    if left_mm > 40 and draw(st.booleans()):
        add("ink", [Used(200.0, None, round(left_mm * draw(st.sampled_from([0.2, 0.7345, 1.0])), 4))], True)
    return Taken("out/nest.json", "nest of week.toml", f"{number_of_it:064x}", tuple(sheets))


def offcut_mm2(tables: dict, vinyl: str) -> float:
    own = [table for table in tables.get("offcut", []) if table["vinyl"] == vinyl]
    return math.fsum(table["width"] * table["length"] * table.get("quantity", 1) for table in own)


def new_mm2(tables: dict) -> float:
    """New vinyl that is counted."""
    sheets = [(t.get("width", 305) * t.get("length", 610), t["quantity"]) for t in tables.get("sheet", [])]
    return math.fsum(area * count for area, count in sheets) + sum(200 * t["length_left"] for t in tables.get("roll", []))


def comments_of(text: str) -> list[str]:
    return re.findall(r"#.*", text.replace("\r", ""))


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_nests_booked_one_after_the_other(data):
    text = data.draw(stocks())
    for round_ in range(3):
        stock = parse_stock(text, "stock.toml")
        taken = data.draw(results(stock, round_))
        names = [sheet.name for sheet in taken.sheets]
        if not names:
            break
        some = data.draw(st.sets(st.sampled_from(names), min_size=1))
        booking = book(stock, taken, some)
        made = booked_text(text, booking)
        before, after = tomllib.loads(text), tomllib.loads(made)
        cut = [(sheet, used) for sheet in taken.sheets if sheet.name in some for used in sheet.used]
        counted = {(e.width_mm or 305.0, e.length_mm or 610.0) for e in stock.sheets}
        bought = math.fsum(  # new vinyl that the file does not count
            used.width_mm * (used.length_mm or used.used_mm)
            for sheet, used in cut
            if sheet.is_new and ((used.width_mm, used.length_mm) not in counted if used.length_mm else not stock.rolls)
        )
        used_mm2 = math.fsum(used.width_mm * used.used_mm for _, used in cut)
        told = [re.search(r"of \S+ (\S+) x (\S+) mm are over", line) for line in booking.lines]
        dropped = math.fsum(float(each[1]) * float(each[2]) for each in told if each)
        had, have = (offcut_mm2(t, "tin") + offcut_mm2(t, "ink") + new_mm2(t) for t in (before, after))
        rounding = math.fsum(0.16 * used.width_mm for _, used in cut)
        assert -1e-6 <= had + bought - used_mm2 - have - dropped + rounding <= 2 * rounding + 1e-6
        counts = [t.get("quantity", 1) for t in (*after.get("offcut", []), *after.get("sheet", []))]
        assert all(count >= 0 for count in counts) and all(t["length_left"] >= 0 for t in after.get("roll", []))
        kept = iter(comments_of(made))
        assert all(any(comment == other for other in kept) for comment in comments_of(text))
        assert ("\r\n" in made) >= ("\r\n" in text) and made.replace("\r\n", "").count("\n") in (0, made.count("\n"))
        again = parse_stock(made, "stock.toml")
        assert unbooked(again, taken) == [name for name in names if name not in some]
        text = made


TWO = entry("offcut", "tin", "width = 60", "length = 200", 'shelf = "A"', head="# good") + "\n" + entry(
    "offcut", "tin", "width = 60", "length = 200", 'shelf = "B"', "quantity = 2"
)


def result_of(*sheets: SheetTaken) -> Taken:
    return Taken("out/nest.json", "nest of week.toml", SHA, sheets)


def offcut_sheet(number: int, used_mm: float, shelf: str = "") -> SheetTaken:
    return SheetTaken(f"sheet-tin-{number}", "tin", 5.0, (305.0, 610.0), (Used(60.0, 200.0, used_mm, shelf),), False)


def test_the_rest_of_a_single_offcut_takes_its_place():
    text = booked_text(TWO, book(parse_stock(TWO, "s"), result_of(offcut_sheet(1, 50.06, "A"))))
    assert text.startswith(TWO.replace("length = 200", "length = 149.9", 1))
    assert text[len(TWO) + 2:] == f'\n[[booked]]\nresult = "nest of week.toml"\nmanifest = "{SHA}"\n'


def test_the_rest_of_one_of_several_is_new_and_on_their_shelf():
    booking = book(parse_stock(TWO, "s"), result_of(offcut_sheet(1, 50.0, "B"), offcut_sheet(2, 190.0, "B")))
    text = booked_text(TWO, booking)
    left = {"vinyl": "tin", "width": 60, "length": 150, "left_of": "sheet-tin-1 (nest of week.toml)", "shelf": "B"}
    assert [*tomllib.loads(text)["offcut"]] == [tomllib.loads(TWO)["offcut"][0], left]
    assert booking.lines == (
        "tin: 2 offcuts of 60 x 200 mm (B), then none",
        "tin: a new offcut of 60 x 150 mm (B), left of sheet-tin-1 (nest of week.toml)",
        "tin: of sheet-tin-2 60 x 10.0 mm are over, too short to keep",
    )


def test_used_up_it_goes_but_with_a_comment_it_stays_with_none():
    text = booked_text(TWO, book(parse_stock(TWO, "s"), result_of(offcut_sheet(1, 199, "A"), offcut_sheet(2, 199, "B"), offcut_sheet(3, 199, "B"))))
    first = TWO.partition("\n\n")[0]
    assert text.startswith(f"{first}\nquantity = 0\n\n[[booked]]\n")


def test_one_that_lies_on_another_shelf_by_now_is_taken_too():
    assert book(parse_stock(TWO, "s"), result_of(offcut_sheet(1, 199, "gone"))).after.offcuts[0].quantity == 0


def test_what_the_stock_lacks_is_refused_sheet_by_sheet():
    stock = parse_stock(entry("roll", "ink", "length_left = 90") + entry("sheet", "tin", "quantity = 1"), "stock.toml")
    new = [SheetTaken(f"sheet-tin-{n}", "tin", 5.0, (305.0, 610.0), (Used(305.0, 610.0, 300.0),), True) for n in (2, 3)]
    roll = SheetTaken("sheet-ink-1", "ink", 5.0, (200.0, None), (Used(200.0, None, 90.1),), True)
    with pytest.raises(JobError) as error:
        book(stock, result_of(offcut_sheet(1, 50.0), *new, roll))
    assert [line.partition(", and ")[0] for line in str(error.value).splitlines()] == [
        "out/nest.json: sheet-tin-1: it is cut of an offcut of tin 60 x 200 mm",
        "out/nest.json: sheet-tin-3: it takes a new sheet of tin 305 x 610 mm",
        "out/nest.json: sheet-ink-1: it takes 90.1 mm of ink",
    ]
    with pytest.raises(JobError, match=r'^out/nest.json --only: read "sheet-tn-2"; .*; did you mean "sheet-tin-2"\?$'):
        book(stock, result_of(*new), ["sheet-tn-2"])


def test_lengths_are_written_in_the_files_own_millimetres_or_with_their_unit():
    text = 'units = "in"\n' + entry("offcut", "tin", "width = 2", 'length = "8 in"')
    used = SheetTaken("sheet-tin-1", "tin", 5.0, (305.0, 610.0), (Used(50.8, 203.2, 100.0),), False)
    made = booked_text(text, book(parse_stock(text, "s"), result_of(used)))
    assert made.startswith(text.replace('"8 in"', '"103.2 mm"'))


def test_what_comes_out_otherwise_than_it_was_meant_is_not_written(monkeypatch):
    booking = book(parse_stock(TWO, "s"), result_of(offcut_sheet(1, 50.0, "A")))
    for wrong in (lambda self: self.text, lambda self: self.text + "[["):
        monkeypatch.setattr(StockText, "edited", wrong)
        with pytest.raises(WriteError, match="^s: it is written in a way in which it can't be changed safely; it is as it was$"):
            booked_text(TWO, booking)


def test_a_table_within_a_line_is_refused_before_anything_is_written():
    text = 'offcut = [ { vinyl = "tin", width = 60, length = 200 } ]\n'
    with pytest.raises(JobError, match=r"stock.toml offcut: must be written \[\[offcut\]\]"):
        booked_text(text, book(parse_stock(text, "stock.toml"), result_of(offcut_sheet(1, 50.0))))
