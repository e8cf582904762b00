"""The work list as one HTML file: no script, no network; it reads on a phone, in the dark and on paper."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from html import escape as escaped

from stripegen.drawing import Item, PathItem
from stripegen.worklist import WorkList
from stripegen.worklook import WIDTH_MM, Seen, SmallCup, lit_items, pale_items
from stripegen.worksteps import Row, Step, WorkOrder
from stripegen.workwords import (
    COLUMNS,
    HOW_TO_READ,
    MATERIAL_COLUMNS,
    MATERIAL_NOTE,
    TITLE,
    box_count,
    count_text,
    cups_text,
    marks_text,
    material_cells,
    name_text,
    order_facts,
    place_texts,
    row_vinyls,
    sheet_texts,
    side_text,
    size_texts,
    step_caution,
    step_text,
    step_title,
    summary,
)
from stripegen.writers.numbers import number_text
from stripegen.writers.svg import path_data

_STYLE = """
:root { color-scheme: light dark; --ink: #1d1d1b; --quiet: #5c5a55; --rule: #c9c5bd; --page: #ffffff; --band: #f3f1ec;
  --warn: #8a3b12; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #ecebe7; --quiet: #aaa69d; --rule: #4a4843; --page: #171715; --band: #24231f; --warn: #f0a36b; }
}
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 64rem; font: 1rem/1.45 system-ui, sans-serif; color: var(--ink);
  background: var(--page); overflow-wrap: anywhere; }
h1, h2, h3 { line-height: 1.2; break-after: avoid; }
h1 { font-size: 1.7rem; margin: 0; }
h2 { font-size: 1.35rem; margin: 2.5rem 0 .5rem; padding-top: .6rem; border-top: 3px solid var(--ink); }
h3 { font-size: 1.08rem; margin: 1.5rem 0 .3rem; }
p { margin: .3rem 0; max-width: 46rem; }
a { color: inherit; }
nav ul, .facts, td ul { list-style: none; margin: 0; padding: 0; }
nav ul { display: flex; flex-wrap: wrap; gap: .4rem; margin: .8rem 0; }
nav a { display: block; padding: .35rem .6rem; border: 1px solid var(--rule); border-radius: .4rem; text-decoration: none; }
.facts { display: flex; flex-wrap: wrap; gap: .2rem 1.4rem; }
.quiet, .label { color: var(--quiet); }
.label { font-weight: normal; }
.caution { border-left: 4px solid var(--warn); padding-left: .6rem; }
.caution b { color: var(--warn); }
.chip { display: inline-block; width: .9em; height: .9em; margin-right: .35em; vertical-align: -.1em; border: 1px solid var(--ink);
  border-radius: 2px; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0; }
caption { text-align: left; }
th, td { text-align: left; vertical-align: top; padding: .45rem .6rem; border-bottom: 1px solid var(--rule); }
thead th { font-size: .85rem; color: var(--quiet); font-weight: normal; background: var(--band); }
tr { break-inside: avoid; }
tbody th { font-weight: normal; }
.mark { display: block; font-size: 1.5rem; font-weight: bold; line-height: 1.1; }
.work .see { width: 8.5rem; } .work .what { width: 11rem; } .work .sheet { width: 9rem; } .work .done { width: 9.5rem; }
.see svg { display: block; width: 7.5rem; height: auto; }
.see small { display: block; width: 7.5rem; text-align: center; color: var(--quiet); }
.boxes { display: flex; flex-wrap: wrap; gap: .2rem .5rem; }
.boxes label { display: inline-flex; align-items: center; gap: .2rem; font-variant-numeric: tabular-nums; }
input[type=checkbox] { width: 1.25rem; height: 1.25rem; margin: 0; }
input[type=number] { width: 4rem; font: inherit; }
.where { font-variant-numeric: tabular-nums; }
.store { position: absolute; width: 0; height: 0; }
@media screen and (max-width: 42rem) {
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  table, tbody { display: block; }
  th, td { display: block; border: 0; padding: 0; }
  td[data-label] { display: flex; gap: .5rem; flex-wrap: wrap; }
  td[data-label]::before { content: attr(data-label) ": "; color: var(--quiet); }
  .stock td[data-label] { display: block; }
  .stock tr { display: block; padding: .6rem 0; border-bottom: 1px solid var(--rule); }
  .work tr { display: grid; grid-template-columns: 7.5rem 1fr; gap: .3rem .8rem; padding: .8rem 0; border-bottom: 1px solid var(--rule); }
  .work .where, .work .sheet, .work .done { grid-column: 1 / -1; }
  .work .see, .work .what, .work .sheet, .work .done { width: auto; }
  input[type=checkbox] { width: 1.5rem; height: 1.5rem; }
}
@media print {
  :root { color-scheme: light; --ink: #000000; --quiet: #333333; --rule: #888888; --page: #ffffff; --band: #ffffff; --warn: #000000; }
  @page { margin: 12mm; }
  html { font-size: 9.5pt; }
  body { padding: 0; max-width: none; }
  .facts, p:has(+ table), p:has(+ .caution) { break-after: avoid; }
  .work .see { width: 33mm; } .work .what { width: 34mm; } .work .sheet { width: 34mm; } .work .done { width: 26mm; }
  th, td { padding: .35rem .4rem; }
  input[type=number] { width: 3rem; }
  nav { display: none; }
  h2 { margin-top: 1.5rem; }
  .see svg { width: 29mm; }
}
"""


def work_list_html(work: WorkList, units: str) -> str:
    """The whole file as text, lengths in "mm", "cm" or "in"; the same work list gives the same text."""
    return "\n".join(_Page(work, units).lines()) + "\n"


class _Page:
    """The page on its way: each look's pale pictures are written once, where they are first used."""

    def __init__(self, work: WorkList, units: str):
        self.work, self.units = work, units
        self.pictures: dict[tuple[int, int | None], str] = {}

    def lines(self) -> Iterator[str]:
        work = self.work
        title = f"{TITLE}: {work.title}" if work.title else TITLE
        yield '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">'
        yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
        yield f"<title>{escaped(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>"
        yield f"<header>\n<h1>{escaped(title)}</h1>\n<p>{escaped(summary(work))}</p>"
        yield "</header>\n<main>"
        if len(work.orders) > 1:
            links = (f'<li><a href="#order-{n}">{escaped(o.id)}</a></li>' for n, o in enumerate(work.orders, 1))
            yield f'<nav aria-label="Orders">\n<ul>\n{"".join(links)}\n</ul>\n</nav>'
        yield from self.head()
        for number, order in enumerate(work.orders, 1):
            yield from self.order(number, order)
        yield "</main>\n</body>\n</html>"

    def head(self) -> Iterator[str]:
        work = self.work
        columns = MATERIAL_COLUMNS if work.has_sheets else MATERIAL_COLUMNS[:-1]
        yield '<section aria-labelledby="materials">\n<h2 id="materials">What it takes</h2>'
        yield f"<p>Cups: {escaped(cups_text(work))}.</p>\n<table class=\"stock\">"
        yield _table_head(columns)
        yield "<tbody>"
        for material in work.materials:
            cells = [*map(_tied, material_cells(material, self.units)), *([escaped(", ".join(material.sheets))] * work.has_sheets)]
            told = zip(columns[1:], cells, strict=True)
            row = "".join(f'<td data-label="{escaped(name)}">{cell}</td>' for name, cell in told)
            yield f'<tr><th scope="row">{_chip(material.vinyl, material.colour)}</th>{row}</tr>'
        yield f'</tbody>\n</table>\n<p class="quiet">{escaped(MATERIAL_NOTE)}</p>\n</section>'
        yield '<section aria-labelledby="reading">\n<h2 id="reading">How to read it</h2>'
        yield from (f"<p>{escaped(text)}</p>" for text in HOW_TO_READ)
        yield "<p>Ticks stay only as long as the page is open; print it to keep them.</p>\n</section>"

    def order(self, number: int, order: WorkOrder) -> Iterator[str]:
        yield f'<section aria-labelledby="order-{number}">\n<h2 id="order-{number}">Order {escaped(order.id)}</h2>'
        facts = [f'<li><span class="label">{escaped(what)}</span> {escaped(is_)}</li>' for what, is_ in order_facts(order)]
        facts += [f'<li><span class="label">Vinyl</span> {_chip(*vinyl)}</li>' for vinyl in order.vinyls]
        yield f'<ul class="facts">{"".join(facts)}</ul>'
        for count, step in enumerate(order.steps, 1):
            yield f"<h3>{count}. {escaped(step_title(step))}</h3>"
            yield f"<p>{_tied(' '.join(step_text(step, order, self.units)))}</p>"
            if caution := step_caution(step):
                yield f'<p class="caution"><b>Caution.</b> {escaped(caution)}</p>'
            if step.rows:
                yield from self.rows(order, step)
        yield "</section>"

    def rows(self, order: WorkOrder, step: Step) -> Iterator[str]:
        columns = [name for name in COLUMNS if name != "Sheet" or self.work.has_sheets]
        sides = dict.fromkeys(row.side_deg for row in step.rows)
        fresh = [side for side in sides if (id(order.look), side) not in self.pictures]
        if fresh:
            symbols = "".join(self.symbol(order.look, side) for side in fresh)
            yield f'<svg class="store" aria-hidden="true">{symbols}</svg>'
        yield '<table class="work">'
        yield _table_head(columns)
        yield "<tbody>"
        for row in step.rows:
            yield self.row(order, row)
        yield "</tbody>\n</table>"

    def symbol(self, look: SmallCup, side_deg: int | None) -> str:
        name = self.pictures[id(look), side_deg] = f"cup-{len(self.pictures) + 1}"
        seen = look.seen(side_deg)
        return f'<symbol id="{name}" viewBox="{_view_box(seen)}">{_paths(pale_items(seen))}</symbol>'

    def row(self, order: WorkOrder, row: Row) -> str:
        seen, side = order.look.seen(row.side_deg), side_text(row)
        lit = _paths(lit_items(seen, row.lit, [strip.colour for strip in row.strips]))
        use = f'<use href="#{self.pictures[id(order.look), row.side_deg]}"/>'
        name = name_text(row)
        label = escaped(f"{name}, {side}")
        sizes = "<br>".join(map(_tied, size_texts(row, self.units)))
        vinyls = "<br>".join(_chip(*vinyl) for vinyl in row_vinyls(row))
        where = "".join(f"<li>{_tied(line)}</li>" for line in place_texts(row, self.units))
        cells = [
            f'<td class="see"><svg viewBox="{_view_box(seen)}" role="img" aria-label="{label}">{use}{lit}</svg><small>{side}</small></td>',
            f'<th scope="row" class="what"><span class="mark">{escaped(marks_text(row))}</span>{escaped(name)}<br>{vinyls}<br>{sizes}</th>',
            f'<td class="where"><ul>{where}</ul></td>',
        ]
        if self.work.has_sheets:
            sheets = "".join(f"<li>{escaped(text)}</li>" for text in sheet_texts(row))
            cells.append(f'<td class="sheet" data-label="Sheet"><ul>{sheets}</ul></td>')
        cells.append(f'<td class="done" data-label="Done"><div class="boxes">{_boxes(order, name)}</div></td>')
        return f"<tr>{''.join(cells)}</tr>"


_IN_LENGTH = re.compile(r"(?<=\d) (?=\d+/\d|(?:mm|cm|in|cm\u00b2|sq in|m|ft)\b)|(?<=mm|cm|in) (?=down\b)")


def _tied(text: str) -> str:
    """A text whose lengths are not broken over lines."""
    return _IN_LENGTH.sub("&nbsp;", escaped(text))


def _table_head(columns: Sequence[str]) -> str:
    cells = "".join(f'<th scope="col">{escaped(name)}</th>' for name in columns)
    return f"<thead><tr>{cells}</tr></thead>"


def _chip(name: str, colour: str) -> str:
    return f'<span class="chip" style="background:{escaped(colour)}"></span>{escaped(name)}'


def _boxes(order: WorkOrder, name: str) -> str:
    """A box for each cup, or where there are many a place to write how many are done."""
    label = escaped(name)
    if not box_count(order):
        return f'<label><input type="number" min="0" max="{order.quantity}" aria-label="{label}: cups done"> {count_text(order)}</label>'
    return "".join(
        f'<label><input type="checkbox" aria-label="{label}, cup {cup}">{cup}</label>' for cup in range(1, box_count(order) + 1)
    )


def _view_box(seen: Seen) -> str:
    return f"0 0 {number_text(WIDTH_MM)} {number_text(seen.height_mm, 2)}"


def _paths(items: Sequence[Item]) -> str:
    return "".join(_path(item) for item in items if isinstance(item, PathItem))


def _path(item: PathItem) -> str:
    stroke = f' stroke="{item.stroke}" stroke-width="{number_text(item.stroke_width_mm)}"' if item.stroke else ""
    return f'<path fill="{item.fill}" fill-rule="evenodd"{stroke} d="{path_data(item.shapes)}"/>'
