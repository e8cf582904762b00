"""Names and texts from jobs and file names stay names: never a path, markup, script, formula or a second line.

Read by other programs than those that write: the standard library's parsers of HTML, XML and CSV, and pypdf.
"""

from __future__ import annotations

import csv
import io
import json
import sys
import tomllib
from collections import Counter
from html.parser import HTMLParser
from xml.etree import ElementTree

import pypdf
import pytest
from click.testing import CliRunner
from jobtexts import HOSTILE

from stripegen.cli import main
from stripegen.errors import Fault, JobError, Notice, Where, WriteError
from stripegen.jobfile import parse_job
from stripegen.panelspec import read_panels
from stripegen.tables import Table

MARKUP = """</title></script><script>alert(1)</script><img src=x onerror=alert(1)>"' onload='x]]><!-- &lt;&#0; ../../x"""
FILE = MARKUP.replace("/", "\u2044") + "\x1b[31m\n\u202e\udcff.toml" if sys.platform == "linux" else "a 'b' &amp; c.toml"
PLAIN = "week.toml"
JOB = """
title = TITLE
[cup.-]
rim = { diameter = 86 }
base = { diameter = 80 }
height = 60
[vinyl.-A1]
colour = "#b8923a"
width = 305
length = 400
price = { sheet = 3 }
shared_cuts = true
[pattern.--]
[[pattern.--.line]]
name = "-2"
kind = "vertical"
around = [0, 20]
width = 5
ends = "square"
vinyl = "_"
[[order]]
id = "-1"
cup = "-"
pattern = "--"
vinyl = "-A1"
"""


def written(folder, title: str, file: str) -> dict[str, bytes]:
    """All that four commands write of a job so named; and what they tell is one line after the other."""
    folder.mkdir()
    job = folder / file
    job.write_text(JOB.replace("TITLE", json.dumps(title, ensure_ascii=False)), encoding="utf-8")
    for command in ("strips", "nest", "preview", "guide"):
        done = CliRunner().invoke(main, [command, str(job), "-o", str(folder / f"out {file}")])
        assert done.exit_code == 0, done.output
        assert all(line.isprintable() for line in done.output.split("\n")), done.output
    return {path.name: path.read_bytes() for path in sorted((folder / f"out {file}").iterdir())}


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    """The files of a job with a hostile title and file name, and of the same with harmless ones."""
    folder = tmp_path_factory.mktemp("names")
    return written(folder / "hostile", MARKUP, FILE), written(folder / "harmless", "Harbour cups", PLAIN)


class Structure(HTMLParser):
    """The tags of a page with their attributes' names, in order, and what stands in its scripts."""

    def __init__(self, page: bytes):
        super().__init__()
        self.tags: list = []
        self.feed(page.decode())
        self.close()

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, sorted(name for name, _ in attributes)))

    def handle_comment(self, data):
        self.tags.append("comment")


def test_the_same_files_are_written_and_none_elsewhere(both):
    hostile, harmless = both
    assert set(hostile) == set(harmless)
    assert {"strips.csv", "nest.csv", "costs.csv", "preview.html", "work-list.html", "guide--1.pdf", "sheet--A1-1.svg"} <= set(hostile)


@pytest.mark.parametrize("name", ["preview.html", "work-list.html"])
def test_pages_have_the_same_tags_whatever_the_title(both, name):
    hostile, harmless = (Structure(files[name]).tags for files in both)
    assert hostile == harmless
    assert MARKUP[:20] not in both[0][name].decode() and b"alert(1)" in both[0][name]


def test_pictures_have_the_same_elements_whatever_the_title(both):
    for name in [name for name in both[0] if name.endswith(".svg")]:
        found = [
            Counter((each.tag, *sorted(each.keys())) for each in ElementTree.fromstring(files[name]).iter()) for files in both
        ]
        assert found[0] == found[1], name
        assert not [tag for tag, *keys in found[0] if "script" in tag or any(key.startswith("on") for key in keys)]


def test_no_pdf_does_anything(both):
    hostile, _ = both
    for name in [name for name in hostile if name.endswith(".pdf")]:
        reader = pypdf.PdfReader(io.BytesIO(hostile[name]))
        assert not {"/OpenAction", "/AA", "/AcroForm"} & set(reader.trailer["/Root"]), name
        assert not [page for page in reader.pages if "/Annots" in page or "/AA" in page], name
        assert b"/JavaScript" not in hostile[name] and b"/Launch" not in hostile[name]


def test_no_cell_of_a_table_is_a_formula(both):
    hostile, _ = both
    cells = 0
    for name in [name for name in hostile if name.endswith(".csv")]:
        for row in csv.reader(io.StringIO(hostile[name].decode(), newline="")):
            for cell in row:
                assert cell.isprintable()
                assert not cell.startswith(("=", "+", "@")), (name, cell)
                if cell.startswith("-"):
                    float(cell)
                cells += cell == "'-1"
    assert cells == 2 + 2 + 1  # the order's id, in strips.csv, nest.csv and costs.csv


def test_manifests_hold_the_names_as_they_are(both):
    hostile, _ = both
    for command in ("strips", "nest", "preview", "guide"):
        manifest = json.loads(hostile[f"{command}.json"])
        assert manifest["job"] == FILE
        assert set(manifest["files"]) <= set(hostile)
    assert {piece["order"] for piece in json.loads(hostile["nest.json"])["pieces"]} == {"-1"}
    assert tomllib.loads(hostile["offcuts.toml"].decode())["offcut"][0]["vinyl"] == "-A1"


@pytest.mark.parametrize("name", sorted({*HOSTILE} - {"-1", "nul"}))
def test_a_hostile_name_is_refused_wherever_a_name_stands(name):
    quoted = json.dumps(name, ensure_ascii=False).replace("\x7f", "\\u007f")
    for place in ("[cup.-]", "[vinyl.-A1]", 'name = "-2"', 'id = "-1"', 'cup = "-"', 'pattern = "--"', 'vinyl = "-A1"'):
        text = JOB.replace("TITLE", '""')
        before = "[cup." if "[cup" in place else "[vinyl." if "[vinyl" in place else place.partition('"')[0]
        text = text.replace(place, before + quoted + "]" * place.endswith("]"), 1)
        with pytest.raises(JobError) as caught:
            parse_job(text, "week.toml", lambda kind, name: None)
        assert all(line.isprintable() for line in str(caught.value).split("\n"))
        assert str(caught.value).count("\n") == len(caught.value.faults) - 1


@pytest.mark.parametrize("image", ["../art.png", "/art.png", "a/../../art.png", "..\\art.png", "C:\\art.png", "C:art.png", "\\art.png"])
def test_a_picture_is_named_by_a_place_beside_the_job(image):
    table = Table({"panels": [{"from": 0, "to": 90, "image": image}]}, Where("week.toml", "[cup.tall]"), [])
    read_panels(table)
    (fault,) = table.faults
    assert "beside the job file" in fault.right
    table = Table({"panels": [{"from": 0, "to": 90, "image": "art/..front.png"}]}, Where("week.toml", "[cup.tall]"), [])
    assert read_panels(table)[0].image == "art/..front.png" and not table.faults


@pytest.mark.parametrize("text", HOSTILE)
def test_whatever_is_told_is_one_printable_line(text):
    where = Where(f"{text}.toml", f"[cup.{text}]")
    told = [Fault(where, text, text, text), WriteError(f"{text}: is not a folder"), Notice(code="x", message=text, order="R-1")]
    for each in told:
        assert str(each).isprintable()
