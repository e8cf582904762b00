"""Text changed in place: what is not changed stays to the byte, and TOML reads what was meant."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.errors import JobError
from stripegen.stocktext import StockText, listed, quoted, statements

# each of them right by itself, and hard to take apart line by line
LINES = [
    "# [[offcut]]",
    "",
    "   \t",
    'shelf = """\n[[offcut]]\nvinyl = "a" # no comment\\""" x"""""',
    "note = '''\n# no comment\n'' '''",
    'list = [ "#", 1, # a comment\n  2,\n]   # after',
    "inline = { a = [1, { b = 'x # y' }], \"c = d\" = 2 }",
    '"key = #" = "\\"#" # "quoted"',
    "dotted.key = 2027-01-01",
    "'quoted' = 0",
    "odd = \"\"\"a\"\"\"\"\"",
]
TEXTS = st.lists(st.tuples(st.sampled_from(LINES), st.booleans()), max_size=6)


def text_of(tables: list[list[tuple[str, bool]]], eol: str, ends: bool) -> str:
    """Tables of those lines, each line once a table, with headers between them of kinds that we know and that we don't."""
    headers = ["", "[[offcut]]", "[other]", "[[ offcut ]] # one", "[[other2]]", "[['offcut']]", "[a.offcut]"]
    parts = []
    for n, lines in enumerate(tables):
        parts += [headers[n % len(headers)] if n < len(headers) else "[[offcut]]"]
        parts += list(dict.fromkeys(line for line, _ in lines))
    text = eol.join(part.replace("\n", eol) for part in parts)
    return text + eol if ends else text


@given(st.lists(TEXTS, min_size=1, max_size=9), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_statements_are_the_whole_text_and_each_is_right_by_itself(tables, eol, ends):
    text = text_of(tables, eol, ends)
    values = tomllib.loads(text)
    found = statements(text)
    assert "".join(text[each.start : each.end] for each in found) == text
    for each in found:
        own = tomllib.loads(text[each.start : each.end])
        assert bool(own) == (each.kind in ("header", "value"))
        if each.kind == "value":
            assert tomllib.loads(f"{each.key} = {text[slice(*each.value)]}") == own
        commented = ("# [[offcut]]", "# one", "# after", '# "quoted"')
        assert each.has_comment == text[each.start : each.end].rstrip().endswith(commented)
    assert len(StockText(text, "f").tables.get("offcut", ())) == len(values.get("offcut", ()))


@given(st.lists(TEXTS, min_size=2, max_size=9), st.sampled_from(["\n", "\r\n"]), st.booleans(), st.data())
def test_edits_change_what_they_are_meant_to_and_nothing_else(tables, eol, ends, data):
    text = text_of(tables, eol, ends)
    before = tomllib.loads(text)
    edited, meant, gone = StockText(text, "f"), [dict(each) for each in before["offcut"]], []
    for n in range(len(meant)):
        what = data.draw(st.sampled_from(["leave", "set", "new key", "remove"]))
        if what == "remove" and not edited.has_comment("offcut", n):
            edited.remove("offcut", n)
            gone.append(n)
        elif what == "set":
            edited.set("offcut", n, "quoted", "7")
            meant[n]["quoted"] = 7
        elif what == "new key":
            edited.set("offcut", n, "fresh", '"8 mm"')
            meant[n]["fresh"] = "8 mm"
    for number in range(data.draw(st.integers(0, 2))):
        edited.add("offcut", [("vinyl", '"x"'), ("n", str(number))])
        meant.append({"vinyl": "x", "n": number})
    edited.add("booked", [("n", "1")])
    made = edited.edited()
    after = tomllib.loads(made)
    assert after.pop("booked") == [{"n": 1}]
    assert after.pop("offcut", []) == [each for n, each in enumerate(meant) if n not in gone]
    before.pop("offcut")
    assert after == before
    # what is not of a table taken out nor set is there still, in its order
    removed = {i for n in gone for i in edited.tables["offcut"][n]}
    kept = [text[each.start : each.end].strip() for i, each in enumerate(edited.statements) if i not in removed]
    places = iter([made[each.start : each.end].strip() for each in statements(made)])
    assert all(any(line == other for other in places) for line in kept if line and not line.startswith("'quoted'"))
    assert "\n" not in made.replace(eol, "")


def test_a_line_is_put_after_the_last_key_as_far_in_as_that_is():
    text = '[[offcut]]\n  width = 3 # wide\n\n# the next\n[[offcut]]\nwidth = 4'
    edited = StockText(text, "f")
    edited.set("offcut", 0, "quantity", "0")
    edited.set("offcut", 1, "quantity", "2")
    assert edited.edited() == '[[offcut]]\n  width = 3 # wide\n  quantity = 0\n\n# the next\n[[offcut]]\nwidth = 4\nquantity = 2\n'


@pytest.mark.parametrize(
    ("text", "by_it"),
    [
        ("[[offcut]]\na = 1\n", False),
        ("# far\n\n[[offcut]]\na = 1\n\n# far\n", False),
        ("# near\n[[offcut]]\na = 1\n", True),
        ("[[offcut]] # near\na = 1\n", True),
        ("[[offcut]]\n# near\na = 1\n", True),
        ("[[offcut]]\na = 1 # near\n", True),
        ("[[offcut]]\na = 1\n# near\n", True),
        ("[[other]]\nb = 1 # its own\n[[offcut]]\na = 1\n[[other]] # its own\n", False),
    ],
)
def test_which_comments_stand_by_a_table(text, by_it):
    assert StockText(text, "f").has_comment("offcut", 0) is by_it


def test_tables_that_do_not_stand_on_lines_of_their_own_are_refused():
    for text in ('offcut = [ { vinyl = "a" } ]\n', "[[a.b]]\n"):
        with pytest.raises(JobError, match=r"^f offcut: must be written \[\[offcut\]\]"):
            StockText(text, "f").check({"offcut": 1})


@given(st.text(st.characters(exclude_categories=["C", "Z"]), max_size=9))
def test_text_is_quoted(text):
    assert tomllib.loads(f"a = {quoted(text)}\nb = {listed([text, 'x'])}") == {"a": text, "b": [text, "x"]}
