"""The work list as HTML: well formed, safe, complete, and of itself alone."""

from __future__ import annotations

from collections import Counter
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from worklists import made, sheet_names

from stripegen.workhtml import work_list_html
from stripegen.worklist import work_list

EMPTY = {"meta", "input", "br"}


class Reader(HTMLParser):
    """Reads a page; fails where an element is left open or closed that is not."""

    def __init__(self, text: str):
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict]] = []
        self.texts: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open, self.open

    def handle_starttag(self, tag, attrs):
        assert len(dict(attrs)) == len(attrs)
        self.elements.append((tag, dict(attrs)))
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] != "style":
            self.texts.append(data)

    def all(self, tag: str) -> list[dict]:
        return [attrs for name, attrs in self.elements if name == tag]


@pytest.fixture(scope="module", params=["hard", "some presets"])
def page(request):
    work = made(request.param)[1]
    return work, Reader(work_list_html(work, "mm"))


def test_nothing_of_a_job_becomes_markup():
    text = work_list_html(made("hard")[1], "mm")
    reader = Reader(text)
    assert not reader.all("script") and "<script" not in text.lower()
    assert "Work list: <script>alert(1)</script> & friends" in reader.texts


def test_names_are_escaped_wherever_they_come_from():
    production, _ = made("hard")
    places = {piece: f'"><img src=x onerror=1> & {name}' for piece, name in sheet_names(production).items()}
    reader = Reader(work_list_html(work_list(production, places), "mm"))
    assert not reader.all("img")
    assert any('"><img src=x onerror=1> & sheet-roll-1' in text for text in reader.texts)


def test_it_needs_nothing_else(page):
    _, reader = page
    assert not [tag for tag, _ in reader.elements if tag in ("script", "link", "img", "iframe", "object")]
    for _, attrs in reader.elements:
        assert not {"src", "srcset", "onclick", "onload"} & set(attrs)
        assert attrs.get("href", "#").startswith("#")


def test_what_is_linked_is_there_once(page):
    _, reader = page
    ids = Counter(attrs["id"] for _, attrs in reader.elements if "id" in attrs)
    assert set(ids.values()) == {1}
    wanted = {attrs["href"][1:] for _, attrs in reader.elements if "href" in attrs}
    wanted |= {attrs["aria-labelledby"] for _, attrs in reader.elements if "aria-labelledby" in attrs}
    assert wanted <= set(ids)


def test_it_has_every_strip_and_a_box_for_each_cup(page):
    work, reader = page
    text = "\n".join(reader.texts)
    for order in work.orders:
        assert f"Order {order.id}" in reader.texts
        for strip in order.strips:
            assert strip.mark in text and strip.name in text
    rows = [(order, row) for order in work.orders for step in order.steps for row in step.rows]
    kinds = Counter(attrs["type"] for attrs in reader.all("input"))
    assert kinds["checkbox"] == sum(order.quantity for order, _ in rows if order.quantity <= 12)
    assert kinds["number"] == sum(order.quantity > 12 for order, _ in rows)
    assert all(attrs["aria-label"] for attrs in reader.all("input"))


def test_headings_go_down_one_level_at_a_time_and_cells_have_heads(page):
    _, reader = page
    levels = [int(tag[1]) for tag, _ in reader.elements if tag in ("h1", "h2", "h3", "h4")]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(later <= before + 1 for before, later in pairwise(levels))
    assert {attrs.get("scope") for attrs in reader.all("th")} == {"col", "row"}


def test_inches_all_through():
    text = " ".join(Reader(work_list_html(made("hard")[1], "in")).texts)
    assert "\u00a0in" in text and " mm" not in text and "\u00a0mm" not in text and " cm" not in text


def test_without_sheets_there_is_no_column_of_them():
    production, _ = made("hard")
    reader = Reader(work_list_html(work_list(production), "mm"))
    assert "Sheet" not in reader.texts and "Sheets" not in reader.texts
    assert "Where its ends go" in reader.texts


def test_the_same_work_gives_the_same_text():
    production, work = made("hard")
    assert work_list_html(work, "mm") == work_list_html(work_list(production, sheet_names(production)), "mm")
