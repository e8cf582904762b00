"""Orders from a sheet: the same job as the same orders written as tables; and every fault told by its row and column."""

import csv
import datetime
import io
import json
import re

import pytest
from click.testing import CliRunner
from conftest import JOB
from hypothesis import given
from hypothesis import strategies as st
from placeless import placeless

from stripegen.cli import main
from stripegen.errors import FAULTS_TOLD, JobError
from stripegen.jobfile import parse_job
from stripegen.orderspec import ORDERS_MOST
from stripegen.presets import preset_names
from stripegen.production import produce

HEAD = JOB.partition("[[order]]")[0] + '[vinyl.tin]\ncolour = "#a8adb3"\nwidth = 305\n'
ORDERS = '[orders]\ncsv = "week31.csv"\n'
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
DATES = {"year-month-day": "{0.year}-{0.month:02}-{0.day:02}", "day-month-year": "{0.day}.{0.month}.{0.year}",
         "month-day-year": "{0.month}/{0.day}/{0.year}"}  # fmt: skip


def parse(text, sheet="", file="week.toml"):
    data = sheet if isinstance(sheet, bytes) else sheet.encode()
    return parse_job(HEAD + text, file, lambda kind, name: None, lambda kind: (), lambda name: data)


def told(text, sheet=""):
    with pytest.raises(JobError) as caught:
        parse(text, sheet)
    assert str(caught.value).count("\n") == min(len(caught.value.faults) - 1, FAULTS_TOLD)
    return placeless(str(caught.value)).split("\n")


def sheet_of(rows, separator=",") -> str:
    text = io.StringIO()
    csv.writer(text, delimiter=separator).writerows(rows)
    return text.getvalue()


ids = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_-]{0,10}", fullmatch=True)
orders = st.lists(
    st.fixed_dictionaries(
        {
            "id": ids,
            "quantity": st.integers(1, 99),
            "due": st.none() | st.dates(datetime.date(2020, 1, 1), datetime.date(2030, 1, 1)),
            "vinyl": st.sampled_from(["brass", "ink", "tin"]),
        }
    ),
    min_size=1,
    max_size=6,
    unique_by=lambda order: order["id"].casefold(),
)
WORDS = {"brass": "Gold, shiny\n(roll)", "ink": 'The "dark" one', "tin": "tin"}


@given(
    orders,
    st.sampled_from(sorted(SEPARATORS)),
    st.sampled_from(sorted(DATES)),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    st.permutations(["id", "quantity", "due", "vinyl", "Note", "More notes"]),
    st.booleans(),
    st.integers(0, 6),
)
def test_a_sheet_is_the_same_job_as_its_orders_written_as_tables(rows, separator, form, coding, heads, by_role, split):
    """Whatever the separator, the order of columns, how days are written, the coding, and which orders stand where."""
    own, on_sheet = rows[: min(split, len(rows) - 1)], rows[min(split, len(rows) - 1) :]
    tables, cells = [], []
    for order in [*own, *on_sheet]:
        vinyl = f'{{ accent = "{order["vinyl"]}" }}' if by_role else f'"{order["vinyl"]}"'
        due = f"due = {order['due']}\n" if order["due"] else ""
        tables.append(
            f'[[order]]\nid = "{order["id"]}"\ncup = "crew"\npattern = "regatta"\nquantity = {order["quantity"]}\n'
            f"vinyl = {vinyl}\n{due}"
        )
    for order in on_sheet:
        row = {
            "id": order["id"],
            "quantity": f" {order['quantity']} ",
            "due": DATES[form].format(order["due"]) if order["due"] else "",
            "vinyl": WORDS[order["vinyl"]],
            "Note": "=1+1\n<script>",
            "More notes": "",
        }
        cells += [[row[head] for head in heads], [" "] * len(heads)]
    names = {"id": "Order no", "quantity": "QTY", "due": "due", "vinyl": "Colour"}
    sheet = sheet_of([[names.get(head, head).upper() for head in heads], *cells], SEPARATORS[separator])
    table = (
        f'{ORDERS}cup = "crew"\npattern = "regatta"\ndates = "{form}"\n'
        f'columns = {{ id = "order no", quantity = "Qty", vinyl{".accent" if by_role else ""} = "colour" }}\n'
        f"names = {{ {json.dumps(WORDS['brass'].upper())} = \"brass\", vinyl = {{ {json.dumps(WORDS['ink'])} = \"ink\" }} }}\n"
    )
    job = parse(table + "".join(tables[: len(own)]), sheet.encode(coding))
    assert job == parse("".join(tables))
    assert [order.where.file.partition(":")[0] for order in job.orders] == ["week.toml"] * len(own) + ["week31.csv"] * len(on_sheet)


def test_its_pieces_are_those_of_the_tables():
    table = ORDERS + 'pattern = "regatta"\nvinyl = { accent = "tin" }\nchange = { sash = { width = 4, spare = 1 } }\n'
    sheet = "id,cup,quantity,vinyl.accent,vinyl.ink\nA,crew,2,brass,\nB,crew,1,,brass\n"
    tables = "".join(
        f'[[order]]\nid = "{name}"\ncup = "crew"\npattern = "regatta"\nquantity = {count}\nvinyl = {vinyl}\n'
        "change = { sash = { width = 4, spare = 1 } }\n"
        for name, count, vinyl in [("A", 2, '{ accent = "brass" }'), ("B", 1, '{ accent = "tin", ink = "brass" }')]
    )
    made, same = produce(parse(table, sheet)), produce(parse(tables))
    assert [(p.id, p.vinyl, p.flat.cut_points) for p in made.pieces] == [(p.id, p.vinyl, p.flat.cut_points) for p in same.pieces]
    assert len({id(decoration) for decoration in made.decorations.values()}) == 1  # one copy of the pattern for all


def test_what_an_empty_cell_means():
    table = ORDERS + 'cup = "crew"\npattern = "regatta"\nquantity = 7\ndue = 2027-01-01\nvinyl = "ink"\n'
    job = parse(table, "id,cup,quantity,due,vinyl\nA,,,,\nB,crew,2,2027-02-02,brass\n")
    assert [(o.quantity, o.due.month, o.every_role) for o in job.orders] == [(7, 1, "ink"), (2, 2, "brass")]
    lines = told(ORDERS + 'vinyl = "ink"\n', "id,cup,quantity,pattern\nA,,,regatta\n,crew,1,regatta\n")
    assert lines == [
        'week31.csv:2: column "cup": is empty: must be filled in, or cup in [orders] must say what an empty cell means',
        'week31.csv:2: column "quantity": is empty: must be filled in, or quantity in [orders] must say what an empty cell means',
        'week31.csv:3: column "id": is empty: must be filled in',
    ]


def test_an_id_of_several_columns():
    table = ORDERS + 'cup = "crew"\npattern = "regatta"\nvinyl = "ink"\ncolumns = { id = ["No", "Item"] }\n'
    assert [order.id for order in parse(table, "Item;No\n1;77\n2;77\n;78\n").orders] == ["77-1", "77-2", "78"]
    plain = table + "plain_ids = true\n"
    assert [order.id for order in parse(plain, "Item;No\n(1);#77\n 2;#77/b\n").orders] == ["77-1", "77-b-2"]
    assert told(table, "Item;No\n(1);#77\n")[0].startswith('week31.csv:2: column "No and Item": read "#77-(1)"; must be a name')


def test_columns_that_the_job_names_come_before_those_called_as_keys_are():
    table = ORDERS + 'cup = "crew"\npattern = "regatta"\ncolumns = { id = "No", vinyl.accent = "Colour" }\n'
    (order,) = parse(table, "id,vinyl,Colour,No,vinyl.ink\nx y,?,brass,A,tin\n").orders
    assert (order.id, order.bindings, order.every_role) == ("A", {"accent": "brass", "ink": "tin"}, None)
    (order,) = parse(table.replace("vinyl.accent", "vinyl"), "No,Colour,vinyl.accent\nA,brass,?\n").orders
    assert (order.bindings, order.every_role) == ({}, "brass")


class TestFaults:
    TABLE = ORDERS + 'cup = "crew"\npattern = "regatta"\ncolumns = { quantity = "Qty" }\n'

    def test_each_is_told_by_row_and_column_all_together(self):
        sheet = 'id,Note,Qty,due,vinyl\n\nA,"two\nlines",x,3.4.2027,brass\nB,,1,2027-04-03,Gold\n=cmd,,1,,../brass\n'
        lines = told(self.TABLE, sheet + "C,,\nD,,1,,\nb,,1,,<b>\x1b[31m\n")
        assert lines == [
            'week31.csv:3: column "Qty": read "x"; must be a whole number from 1 to 100000, in figures alone',
            ('week31.csv:3: column "due": read "3.4.2027"; must be a day that there is, its year in four figures, such as '
            '2027-07-30; for what is read here, dates in [orders] must be "day-month-year" or "month-day-year"'),
            'week31.csv:5: row 4, column "vinyl": read "Gold"; there is no such vinyl in the job nor among the presets',
            ('week31.csv:6: row 5, column "id": read "=cmd"; must be a name of ASCII letters, digits, - and _, at most 64; '
            "plain_ids = true in [orders] puts a hyphen in place of anything else"),
            ('week31.csv:6: row 5, column "vinyl": read "../brass"; must be a name of ASCII letters, digits, - and _, at most '
            '64, or in [orders] say what it means: names = { "../brass" = "NAME" }'),
            ("week31.csv:7: row 6: read 3 cells; must have 5 cells, as the first row has; is a separator or a quotation mark "
            "astray?"),
            'week31.csv:8: row 7, column "vinyl": must bind the role "accent" of pattern "regatta" to a vinyl: accent = "NAME"',
            ('week31.csv:9: row 8, column "vinyl": read "<b>\\u001b[31m"; must be a name of ASCII letters, digits, - and _, at '
            'most 64, or in [orders] say what it means: names = { "<b>\\u001b[31m" = "NAME" }'),
            ('week31.csv:9: row 8, column "id": read "b"; is taken by the order "B" of week31.csv:5 (case does not count): '
            "must differ"),
        ]

    def test_what_all_rows_share_is_told_once_at_the_table(self):
        table = ORDERS + 'cup = "crow"\npattern = "regatta"\nvinyl = { accent = "bras", ink = "tin" }\n'
        assert told(table, "id\nA\nB\nC\n") == [
            "week.toml: [orders] cup: read \"crow\"; there is no such cup in the job nor among the presets; did you mean \"crew\"?",
            ('week.toml: [orders] vinyl.accent: read "bras"; there is no such vinyl in the job nor among the presets; did you mean '
            '"brass"?'),
        ]
        table = table.replace("crow", "crew").replace("bras", "brass") + "seams = { rear = { along = 3, at = 400 } }\n"
        (line,) = told(table, "id\nA\nB\nC\n")
        assert line.startswith("week.toml: [orders] seams.rear")

    def test_a_role_that_no_column_binds(self):
        table = ORDERS + 'cup = "crew"\npattern = "regatta"\n'
        assert told(table, "id,vinyl.ink\nA,tin\n") == [
            'week31.csv:2: vinyl: read { ink = "tin" }; must bind the role "accent" of pattern "regatta" to a vinyl: accent = "NAME"'
        ]
        some = table + 'vinyl = { ink = "tin" }\n'
        assert told(some, "id,vinyl.accent\nA,brass\nB,\n") == [
            'week31.csv:3: vinyl: read { ink = "tin" }; must bind the role "accent" of pattern "regatta" to a vinyl: accent = "NAME"'
        ]
        assert told(table, "id\nA\nB\n") == [
            'week.toml: [orders] vinyl: must bind the role "accent" of pattern "regatta" to a vinyl: accent = "NAME"'
        ]

    def test_ids_differ_from_those_of_tables_too(self):
        order = '[[order]]\nid = "r-1"\ncup = "crew"\npattern = "regatta"\nvinyl = "ink"\n'
        line = (HEAD + self.TABLE).count("\n") + 2
        assert told(self.TABLE + 'vinyl = "ink"\n' + order, "id,Qty\nR-1,1\n") == [
            f'week31.csv:2: column "id": read "R-1"; is taken by the order "r-1" of week.toml:{line}:1 (case does not count): must differ'
        ]

    def test_its_place_is_the_line_of_the_sheet_or_the_key_of_the_job(self):
        table = ORDERS + 'cup = "crow"\npattern = "regatta"\n'
        with pytest.raises(JobError) as caught:
            parse(table, 'id,Note,vinyl\nA,"two\nlines",brass\nB,,gold\nC,,"\n')
        line = (HEAD + ORDERS).count("\n") + 1
        assert [tuple(fault.place) for fault in caught.value.faults] == [
            ("week31.csv", 5, None), ("week.toml", line, 1), ("week31.csv", 4, None)
        ]  # fmt: skip

    def test_of_many_faults_the_first_are_told(self):
        lines = told(self.TABLE + 'vinyl = "ink"\n', "id,Qty\n" + "A,x\n" * 300)
        assert len(lines) == FAULTS_TOLD + 1
        assert lines[-1] == "there are more faults: mend these first"

    def test_more_orders_than_a_job_may_have(self):
        sheet = "id\n" + "".join(f"A{n}\n" for n in range(ORDERS_MOST + 1))
        table = ORDERS + 'cup = "crew"\npattern = "regatta"\nvinyl = "ink"\n'
        assert told(table, sheet) == [f"week31.csv:{ORDERS_MOST + 2}: a job may have 10,000 orders, and the sheet goes on here"]
        order = '[[order]]\nid = "r-1"\ncup = "crew"\npattern = "regatta"\nvinyl = "ink"\n'
        assert told(table + order, sheet.rpartition("A")[0]) == [
            "week.toml order: read 10001 orders; must be at most 10000 orders, with those of [orders]"
        ]

    @pytest.mark.parametrize(
        ("table", "sheet", "right"),
        [
            ("", "no,cup\nA,crew\n", '[orders] columns: week31.csv has no column "id": say which it is, id = "..."; it has "no"'),
            ('columns = { id = "Nr" }', "no,cup\nA,crew\n", '[orders] columns.id: read "Nr"; week31.csv has no such column'),
            ('columns = { id = "numb" }', "number,cup\nA,crew\n", 'did you mean "number"?; it has "number", "cup"'),
            ('columns = { id = "No" }', "no,NO\nA,B\n", "week31.csv has 2 columns of this name: must have one"),
            ("", "id,ID\nA,B\n", 'week31.csv:1: must have one column "id": has two'),
            ("", "id,vinyl,vinyl.accent\nA,ink,ink\n", "has a vinyl for every role and vinyls for roles by name"),
            ('vinyl = "ink"', "id,vinyl.accent\nA,ink\n", "vinyl: read \"ink\"; must be of the kind of the columns"),
            ('id = "A"', "id\nA\n", "id: read \"A\"; is each order's own: say in which column it stands"),
            ('columns = { seams = "S" }', "id\nA\n", "can't stand in a column: seams in [orders] holds for all its orders"),
            ('columns = { "vinyl.accent" = "C" }', "id,C\nA,B\n", "must stand without quotes, and so give a table of roles"),
            ('columns = { vinyl = { "a b" = "C" } }', "id,C\nA,B\n", "a role must be a name"),
            ("columns = { id = 3 }", "id\nA\n", "must be the name of a column in quotes"),
            ('names = { "Gold" = "Gold, shiny" }', "id\nA\n", 'names.Gold: read "Gold, shiny"; must be a name'),
            ('names = { "Gold" = "a", " GOLD" = "b" }', "id\nA\n", "is told twice but for its case"),
            ('dates = "d.m.y"', "id\nA\n", 'must be one of "year-month-day", "day-month-year", "month-day-year"'),
            ('separator = ";"', "id\nA\n", 'must be one of "comma", "semicolon", "tab"'),
            ('colums = { id = "A" }', "id\nA\n", 'is not a key of this table; did you mean "columns"?'),
            ("", "", "week31.csv: it is empty: must have a row of column names"),
            ("", "id\n\n", "week31.csv: it has no row for an order below the column names"),
            ("", b"id\nK\xf6ln\n", "week31.csv:2: it must be UTF-8 text, and here it is not"),
            ("", 'id,x\nA,"b\n', "week31.csv:2: a quotation mark opens a cell here and none closes it"),
            ("change = { sash = { width = -1 } }", "id\nA\nB\n", "week.toml: [orders] change.sash width: read -1; must be a length"),
            ("quantity = 0", "id\nA\nB\n", "week.toml: [orders] quantity: read 0; must be a whole number"),
        ],
    )
    def test_what_is_wrong_with_the_table_or_the_whole_sheet(self, table, sheet, right):
        vinyl = "" if "vinyl" in table + str(sheet) else 'vinyl = "ink"\n'
        (line,) = told(f'{ORDERS}cup = "crew"\npattern = "regatta"\n{vinyl}{table}\n', sheet)
        assert right in line

    @pytest.mark.parametrize(
        "name", ["../week.csv", "a/../../b.csv", "/tmp/week.csv", "C:week.csv", "a\\b.csv", "week", "week.toml", "a\u0000.csv", "\u202e.csv"]
    )
    def test_a_sheet_lies_beside_the_job_or_below(self, name):
        (line,) = told(f'[orders]\ncsv = {json.dumps(name)}\ncup = "crew"\npattern = "regatta"\n', "id\nA\n")
        assert "[orders] csv: read " in line and "must be the name of a CSV file beside the job file or in a folder below" in line

    def test_the_spreadsheet_itself_is_no_text(self):
        assert "save the sheet as CSV" in told('[orders]\ncsv = "week31.xlsx"\n')[0]

    @pytest.mark.parametrize("text", ["orders = 1\n", '[[orders]]\ncsv = "a.csv"\n'])
    def test_it_is_one_table(self, text):
        with pytest.raises(JobError, match=r"week.toml:1:1: orders: read .*; must be one table \[orders\]"):
            parse_job(text + HEAD, "week.toml", lambda kind, name: None)

    def test_a_job_without_a_folder_has_no_sheet(self):
        with pytest.raises(JobError, match="can't be read here"):
            parse_job(HEAD + self.TABLE, "week.toml", lambda kind, name: None)


cell = st.sampled_from(["id", "cup", "A", "B-1", "crew", "regatta", "1", "2,0", "3.4.2027", "", "../x", "<script>", "=cmd|' /C'!A0",
                        "\x07", "Kö", '"', "brass", "vinyl", "quantity", "due", "vinyl.accent", "a" * 70]) | st.text(max_size=5)  # fmt: skip


@given(st.lists(st.lists(cell, max_size=6), max_size=6), st.sampled_from([",", ";", "\t", "|"]), st.booleans())
def test_whatever_a_sheet_holds_is_read_or_told_in_single_lines(rows, separator, quoted):
    text = sheet_of(rows, separator) if quoted else "\n".join(separator.join(row) for row in rows)
    try:
        job = parse(ORDERS + 'cup = "crew"\npattern = "regatta"\n', text.encode("utf-8", "surrogatepass"))
    except JobError as error:
        assert all(line.isprintable() and len(line) < 2000 for line in str(error).split("\n"))
        assert str(error).count("\n") == len(error.faults) - 1
        return
    for order in job.orders:
        assert all(re.fullmatch(r"[A-Za-z0-9_-]{1,64}", name) for name in (order.id, order.cup, order.pattern))


def test_columns_that_may_have_been_meant_are_told():
    table = ORDERS + 'cup = "crew"\npattern = "regatta"\nvinyl = "ink"\n'
    production = produce(parse(table, "id,Pieces,Wanted by\nA,3,2027-01-01\n"))
    (notice,) = (notice for notice in production.notices if notice.code == "columns")
    assert str(notice) == 'week31.csv has no column for quantity and due, and these are not read: "Pieces", "Wanted by"'
    assert not parse(table + "quantity = 1\n", "id,due,Note\nA,2027-01-01,x\n").notices


class TestOnDisk:
    @pytest.fixture
    def job(self, tmp_path):
        path = tmp_path / "jobs" / "week.toml"
        path.parent.mkdir()
        path.write_text(HEAD + ORDERS.replace("week31", "sheets/week31") + 'cup = "crew"\npattern = "regatta"\nvinyl = "ink"\n')
        return path

    def write(self, job, text):
        (job.parent / "sheets").mkdir(exist_ok=True)
        (job.parent / "sheets" / "week31.csv").write_text(text, encoding="utf-8")

    def run(self, *args):
        return CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False)

    def test_it_is_read_from_the_jobs_folder_and_nested_after_an_earlier_nest(self, job, tmp_path):
        self.write(job, "id,due\nA-1,2027-06-14\nA-2,2027-06-21\n")
        assert self.run("nest", job, "-o", tmp_path / "out", "--effort", "quick", "--due", "2027-W24").exit_code == 0
        self.write(job, "id,due\nA-1,2027-06-14\nA-2,2027-06-21\nA-3,2027-07-21\n")
        result = self.run("nest", job, "-o", tmp_path / "more", "--effort", "quick", "--after", tmp_path / "out")
        assert result.exit_code == 0, result.output
        orders = [{piece["order"] for piece in json.loads((tmp_path / name / "nest.json").read_text())["pieces"]}
                  for name in ("out", "more")]  # fmt: skip
        assert orders == [{"A-1"}, {"A-2", "A-3"}]
        assert self.run("check", job, "--only", "A-3").exit_code == 0
        assert self.run("recut", tmp_path / "more", "A-3.1.edge").exit_code == 0

    def test_a_sheet_that_is_not_there_or_too_large(self, job):
        result = self.run("strips", job, "-o", job.parent / "out")
        assert (result.exit_code, placeless(result.stderr)) == (
            1,
            'week.toml: [orders] csv: read "sheets/week31.csv"; there is no such file\n',
        )
        self.write(job, "id\n" + "A\n" * 2_600_000)
        result = self.run("strips", job, "-o", job.parent / "out")
        assert result.exit_code == 1 and "a sheet of orders may have 5 MB; is this one?" in result.stderr

    def test_it_is_watched_though_it_is_at_fault(self, job):
        from functools import partial

        from stripegen.cli_reading import Source, read_job

        sheets = []
        source = Source(partial(read_job, job, None, sheets), job.parent, None, job, sheets)
        assert job.parent / "sheets" / "week31.csv" not in source.files
        for text in (None, "id\n", "id\nA\n"):
            if text is not None:
                self.write(job, text)
            try:
                source.read()
            except JobError:
                assert text != "id\nA\n"
            assert source.files.count(job.parent / "sheets" / "week31.csv") == 1


def test_presets_are_found_from_a_sheet():
    from stripegen.presets import find_preset

    text = '[orders]\ncsv = "a.csv"\nvinyl = "navy-blue"\n'
    job = parse_job(text, "w.toml", find_preset, preset_names, lambda name: b"id,cup,pattern\n1,tall-tapered,sash\n")
    assert set(job.cups) == {"tall-tapered"} and set(job.patterns) == {"sash"}
