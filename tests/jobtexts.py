"""Texts of jobs, as hypothesis strategies: sound ones over every table and key, and ones broken in all ways.

A job is drawn as tables, each a heading and its values as TOML gives them, and then written as text. So it can be broken as
values (wrong types, absurd numbers, keys gone or strange) and as text (cut off, lines swapped, strange characters).
"""

from __future__ import annotations

import datetime
import json
import math
import string
from collections.abc import Mapping
from typing import Any

from hypothesis import strategies as st

Tables = list[tuple[str, dict[str, Any]]]

NAMES = ("brass", "ink", "R-31", "edge", "sash", "crew", "-", "_1", "0", "A" * 64)
COLOURS = ("#fff", "#b8923a", "#000000", "#ABCDEF")
SEAMS = ("front", "back")
HOSTILE = (
    "../../x", "/etc/passwd", "..\\x", "C:x", "<script>alert(1)</script>", "</script>", "]]>", "<!--", "&amp;", "'\"", "=1+1",
    "@SUM(A1)", "+1", "-1", "\t=1", "a\nb", "a\rb", "\x00", "\x1b[31m", "\x7f", "\x85", "\u2028", "\u202etxt.gvs", "\ufeff",
    "\U0001f3f3", "e\u0301", "nul", "con.svg", ".", "..", "", " ", "a" * 5000, "names.json", ".stripegen-nest", "%s%n", "${x}",
)  # fmt: skip


def literal(value: Any) -> str:
    """A value as TOML has it, on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, float) and not math.isfinite(value):
        return "nan" if math.isnan(value) else "inf" if value > 0 else "-inf"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key_text(key)} = {literal(entry)}" for key, entry in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(literal, value)) + "]"
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return str(value)  # not repr: so many digits that Python would not print them are told by a caller's own text


def key_text(key: str) -> str:
    return key if key and set(key) <= {*string.ascii_letters, *string.digits, *"-_"} else literal(key)


def text_of(tables: Tables) -> str:
    """The text of a file that holds these tables."""
    lines = []
    for heading, values in tables:
        lines += [heading] * bool(heading) + [f"{key_text(key)} = {literal(value)}" for key, value in values.items()]
    return "\n".join(lines) + "\n"


def _some(draw, **keys: st.SearchStrategy) -> dict[str, Any]:
    """Some of these keys, by their names without an underscore at the end."""
    chosen = draw(st.sets(st.sampled_from(sorted(keys))))
    return {key.rstrip("_"): draw(keys[key]) for key in sorted(chosen)}


def lengths(low: float, high: float) -> st.SearchStrategy:
    """Lengths from `low` to `high` mm with units of their own, or bare, as jobs in mm have them."""
    mm = st.integers(math.ceil(low * 100), math.floor(high * 100)).map(lambda hundredths: hundredths / 100)
    inches = st.integers(math.ceil(low / 25.4 * 16), max(math.ceil(low / 25.4 * 16), math.floor(high / 25.4 * 16)))
    return st.one_of(
        mm,
        mm.map(lambda value: f"{value:.2f} mm"),
        mm.map(lambda value: f"{value / 10:.3f}cm"),
        inches.map(lambda parts: f"{parts // 16} {parts % 16}/16 in"),
    )


def exact(low: float, high: float) -> st.SearchStrategy:
    """Bare lengths, where several must agree."""
    return st.integers(math.ceil(low * 10), math.floor(high * 10)).map(lambda tenths: tenths / 10)


DEGREES = st.one_of(st.integers(-720, 720), st.floats(-400, 400).map(lambda degrees: round(degrees, 3)))
PLACES = st.one_of(
    DEGREES, st.sampled_from(SEAMS), st.builds(lambda along, at: {"along": along, "at": at}, exact(-200, 300), exact(0, 40))
)
SHARES = st.integers(0, 100).map(lambda share: f"{share}%")


def _radius(mm: float) -> st.SearchStrategy:
    return st.sampled_from(({"diameter": mm * 2}, {"circumference": round(mm * math.tau, 2)}))


@st.composite
def cups(draw) -> dict[str, Any]:
    """A cup's table: a wall by its ends, by girths or by a profile, and all that may be on it."""
    rim_mm, base_mm, tall_mm = draw(exact(30, 50)), draw(exact(25, 45)), draw(exact(90, 180))
    form = draw(st.sampled_from(("ends", "ends", "girths", "profile")))
    if form == "ends":
        cup = {"rim": draw(_radius(rim_mm)), "base": draw(_radius(base_mm)), draw(st.sampled_from(("height", "wall"))): tall_mm}
    elif form == "girths":
        rows = ((10, rim_mm), (tall_mm - 10, base_mm))
        cup = {"girths": [{"down": down, "circumference": round(mm * math.tau, 2)} for down, mm in rows], "wall": tall_mm}
    else:
        middle_mm, share = draw(exact(30, 50)), draw(st.integers(30, 70)) / 100
        rows = ((0, base_mm), (round(tall_mm * share, 1), middle_mm), (tall_mm, rim_mm))
        cup = {"profile": [{"height": height} | draw(_radius(mm)) for height, mm in rows]}
        cup |= _some(draw, smooth=st.booleans())
    seams = st.fixed_dictionaries(
        {},
        optional={
            "front": DEGREES,
            "back": st.one_of(DEGREES, st.builds(lambda rim, base: {"rim": rim, "base": base}, DEGREES, DEGREES)),
            "side": st.builds(lambda around, gape: {"around": around, "opening": gape}, DEGREES, exact(0, 4)),
            "tape": st.builds(lambda along: {"along": along, "at": 12}, exact(0, 200)),
        },
    )
    keepout = st.builds(
        lambda around, width, start: {"around": around, "width": width, "from": start, "to": start + 40},
        PLACES, exact(1, 40), exact(0, 40),
    )  # fmt: skip
    return cup | _some(
        draw,
        resin=lengths(0, 2),
        seal=lengths(0, 2),
        rim_clearance=lengths(0, 20),
        base_clearance=lengths(0, 20),
        keepout=st.lists(keepout, max_size=2),
        seams=seams,
        panels=panels(),
        colour=st.sampled_from(COLOURS),
    )


def panels() -> st.SearchStrategy:
    shown = st.sampled_from(({"colour": "#b5c7a3"}, {"image": "art.png"}, {"image": "art.jpeg", "colour": "#000"}))
    limits = st.sampled_from(({}, {"top": 10}, {"top": 10, "bottom": 60}))
    panel = st.builds(lambda start, end, what, limit: {"from": start, "to": end} | what | limit, PLACES, PLACES, shown, limits)
    return st.lists(panel, max_size=2)


@st.composite
def vinyls(draw) -> dict[str, Any]:
    vinyl = {"colour": draw(st.sampled_from(COLOURS)), "width": draw(exact(200, 400))}
    if draw(st.booleans()):
        sizes = st.lists(
            st.fixed_dictionaries({"width": exact(100, 400), "length": exact(100, 400)}, optional={"quantity": st.integers(1, 9)}),
            max_size=2,
        )
        price = st.one_of(st.floats(0, 90), exact(0, 9).map(lambda price: {"sheet": price}))
        vinyl["length"] = draw(exact(300, 900))
        vinyl |= _some(draw, quantity=st.integers(20, 1000), sizes=sizes, price=price)
    else:
        price = st.one_of(st.floats(0, 90), exact(0, 50).map(lambda price: {"roll": price, "length": 5000}))
        vinyl |= _some(draw, length_left=lengths(5000, 9000), price=price)
    return vinyl | _some(
        draw,
        margin=lengths(0, 12),
        piece_gap=lengths(0, 4),
        grain=st.sampled_from(("none", "cup", "strip")),
        flip=st.booleans(),
        stretch=st.sampled_from(("0%", "0.5%", "12 %", "100%")),
        min_width=lengths(0, 2),
        corner_radius=lengths(0, 1),
        thickness=lengths(0.05, 0.5),
        shared_cuts=st.booleans(),
        cut_from_back=st.booleans(),
        weed=st.booleans(),
    )


@st.composite
def lines(draw, name: str, earlier: list[dict[str, Any]]) -> dict[str, Any]:
    """A line's table, perhaps under or clear of earlier ones."""
    kind = draw(st.sampled_from(("vertical", "ring", "diagonal", "chevron")))
    line = {"name": name, "kind": kind, "width": draw(exact(1, 6)), "vinyl": draw(st.sampled_from(("accent", "second")))}
    line |= _some(draw, resin=lengths(0, 3), split=st.booleans(), together=st.booleans(), spare=st.integers(1, 2))
    if draw(st.booleans()):
        line |= {"stripes": draw(st.integers(1, 3))} | _some(draw, gap=lengths(0, 4))
    wide = [other["name"] for other in earlier if other["width"] > 4]
    if wide and draw(st.booleans()):
        line |= {"under": draw(st.sampled_from((wide[0], wide[:2])))} | _some(draw, tuck=lengths(0, 1.9))
    elif earlier and draw(st.booleans()):
        line |= {"clear_of": [earlier[-1]["name"]]} | _some(draw, by=lengths(0, 3))
    repeat = st.one_of(
        st.integers(1, 5), st.builds(lambda count, step: {"count": count, "step": step}, st.integers(1, 5), exact(10, 70))
    )
    paths = st.sampled_from(("straight", "same-slant", "even-drop"))
    upper, lower = (st.integers(*shares).map(lambda share: f"{share}%") for shares in ((0, 45), (55, 100)))
    if kind == "vertical":
        if draw(st.booleans()):
            repeat = st.one_of(repeat, st.integers(1, 5).map(lambda count: {"count": count, "between": [*SEAMS]}))
            line["repeat"] = draw(repeat)
        else:
            line["around"] = draw(st.one_of(PLACES, st.just([*SEAMS])))
        line |= _some(draw, from_=upper, to=lower, mirror=PLACES, ends=st.sampled_from(("level", "square")))
        line |= _some(draw, narrows=st.booleans()) if draw(st.booleans()) else _some(draw, slit=st.booleans())
    elif kind == "ring":
        line[draw(st.sampled_from(("down", "up")))] = draw(st.one_of(SHARES, lengths(20, 60), st.just(["25%", "75%"])))
        line |= _some(draw, ends=st.sampled_from(("upright", "square")), slit=st.booleans())
        if draw(st.booleans()):
            start = draw(st.integers(-180, 180))
            line |= {"start": start, "end": start + draw(st.integers(10, 360))} | _some(draw, repeat=repeat)
        else:
            line |= _some(draw, joint=PLACES, overlap=lengths(0, 9))
    elif kind == "diagonal":
        for end, shares in (("start", upper), ("end", lower)):
            line[end] = {"around": draw(PLACES), "down": draw(shares)}
        line |= _some(
            draw,
            path=paths,
            repeat=repeat,
            mirror=st.one_of(st.booleans(), PLACES),
            ends=st.sampled_from(("level", "upright", "square")),
            slit=st.booleans(),
        )
    else:
        line |= {"top": draw(upper), "bottom": draw(lower), "points": draw(st.integers(1, 9))}
        line |= _some(draw, start=PLACES, joint=PLACES, overlap=lengths(0, 3), path=paths, repeat=repeat)
    return line


@st.composite
def jobs(draw) -> Tables:
    """A job of which every table is sound by itself; its lines need not go on its cups."""
    cup, metal, film, pattern = draw(st.permutations(NAMES))[:4]
    title = st.text(st.characters(exclude_categories=("C", "Z")), max_size=40)
    tables: Tables = [("", _some(draw, units=st.just("mm"), title=title))]
    tables.append((f"[cup.{cup}]", draw(cups())))
    tables += [(f"[vinyl.{name}]", draw(vinyls())) for name in (metal, film)]
    clearances = {f"{end}_clearance": lengths(0, 15) for end in ("rim", "base")}
    own = _some(draw, **clearances, together=st.booleans())
    tables.append((f"[pattern.{pattern}]", own))
    found: list[dict[str, Any]] = []
    for name in draw(st.permutations(NAMES))[: draw(st.integers(1, 3))]:
        found.append(draw(lines(name, found)))
    tables += [(f"[[pattern.{pattern}.line]]", line) for line in found]
    for name in draw(st.permutations(NAMES))[: draw(st.integers(1, 2))]:
        order = {"id": name, "cup": cup, "pattern": pattern}
        order["vinyl"] = draw(st.sampled_from((metal, {"accent": metal, "second": film})))
        due = st.dates(datetime.date(1990, 1, 1), datetime.date(2100, 1, 1))
        seams = st.fixed_dictionaries({}, optional={name: DEGREES for name in SEAMS})
        change = st.sampled_from([{found[-1]["name"]: {"spare": 2}}] + [{found[-1]["name"]: False}] * (len(found) > 1))
        more = _some(draw, quantity=st.integers(1, 3), due=due, seams=seams, panels=panels(), change=change)
        tables.append(("[[order]]", order | more))
    if draw(st.booleans()):
        offcut = {"vinyl": film, "width": draw(exact(100, 200)), "length": draw(exact(100, 200))}
        tables.append(("[[offcut]]", offcut | _some(draw, quantity=st.integers(1, 5))))
    if draw(st.booleans()):
        tables.append(("[cutter]", draw(cutters())))
    return tables


@st.composite
def cutters(draw) -> dict[str, Any]:
    scale = st.builds(lambda read: {"along": {"drawn": 200, "read": read}, "across": {"drawn": 200, "read": 200}}, exact(195, 205))
    return _some(
        draw,
        cut_width=lengths(250, 600),
        longest_run=lengths(300, 3000),
        mat=st.builds(lambda width, length: {"width": width, "length": length}, exact(150, 240), exact(150, 240)),
        band=lengths(10, 300),
        cut_past=lengths(0, 5),
        scale=scale,
    )


ANY_TEXT = st.one_of(st.text(st.characters(exclude_categories=("Cs",)), max_size=20), st.sampled_from(HOSTILE))
SCALARS = st.one_of(
    st.booleans(),
    st.sampled_from((0, -1, 1, 10**18, -(10**30), 10**400, 0.0, -0.0, 1e-320, 1e308, math.inf, -math.inf, math.nan, 1e-9, 36001)),
    st.integers(),
    st.floats(),
    ANY_TEXT,
    st.sampled_from(("-1 mm", "1e3 mm", "1/0 in", "9" * 70 + "mm", "101%", "-20%", "200%", "inf mm", "1,5 cm", "３ mm", "0%", "10001 mm")),
    st.sampled_from(NAMES + SEAMS + COLOURS),
    st.dates(datetime.date(1, 1, 1)),
    st.times(),
    st.datetimes(datetime.datetime(1000, 1, 1)),
)
JUNK = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(ANY_TEXT | st.sampled_from(NAMES), inner, max_size=4),
    max_leaves=8,
)


def _holders(value: Any) -> list[dict | list]:
    """Every table and list within a value, itself first."""
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return [value, *(holder for entry in inner for holder in _holders(entry))] if isinstance(value, dict | list) else []


@st.composite
def odd_jobs(draw, sound: st.SearchStrategy | None = None) -> str:
    """A job, or another file, with one to three values, keys or tables that are changed, taken away, added or doubled."""
    tables = draw(jobs() if sound is None else sound)
    for _ in range(draw(st.integers(1, 3))):
        act = draw(st.sampled_from(("value", "value", "value", "value", "gone", "key", "table gone", "table twice", "heading")))
        at = draw(st.integers(0, len(tables) - 1))
        _, values = tables[at]
        held = _holders(values)
        holder = held[draw(st.integers(0, len(held) - 1))]
        places = sorted(holder) if isinstance(holder, dict) else range(len(holder))
        if act == "table gone" and len(tables) > 1:
            del tables[at]
        elif act == "table twice":
            tables.insert(draw(st.integers(0, len(tables))), tables[at])
        elif act == "heading":
            name = draw(ANY_TEXT | st.sampled_from(NAMES))
            shape = draw(st.sampled_from(("[cup.{}]", "[vinyl.{}]", "[[pattern.{}.line]]", "[{}]", "[[{}]]", "[cup.{0}.{0}]")))
            tables[at] = (shape.format(key_text(name)), values)
        elif act == "key" and isinstance(holder, dict):
            holder[draw(ANY_TEXT | st.sampled_from(KEYS_MET))] = draw(JUNK)
        elif places:
            place = places[draw(st.integers(0, len(places) - 1))]
            if act == "gone":
                del holder[place]
            else:
                holder[place] = draw(JUNK)
    return text_of(tables)


KEYS_MET = (
    "around", "down", "up", "start", "end", "step", "count", "between", "repeat", "mirror", "slit", "narrows", "fit", "girths",
    "profile", "smooth", "price", "roll", "sheet", "sizes", "length", "length_left", "quantity", "panels", "seams", "units", "mat",
    "orders", "csv", "columns", "names", "dates", "separator", "plain_ids", "change", "spare", "scale", "drawn", "read", "along", "at", "opening", "image", "title", "cup", "vinyl", "pattern", "order", "offcut", "cutter",
)  # fmt: skip


@st.composite
def torn_texts(draw) -> str:
    """A job's text cut off, with parts gone, doubled, swapped or strange, or with something nested deep in it."""
    text = draw(st.one_of(odd_jobs(), jobs().map(text_of)))
    for _ in range(draw(st.integers(1, 3))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 30)))
        act = draw(st.sampled_from(("cut off", "gone", "twice", "strange", "lines", "deep")))
        if act == "cut off":
            text = text[:start]
        elif act == "gone":
            text = text[:start] + text[end:]
        elif act == "twice":
            text = text[:end] + text[start:]
        elif act == "strange":
            text = text[:start] + draw(ANY_TEXT) + text[start:]
        elif act == "lines":
            rows = text.splitlines()
            text = "\n".join(draw(st.permutations(rows)) if len(rows) < 40 else rows[::-1])
        else:
            opening = draw(st.sampled_from(("[", "{a=", "a=[", "[a", "a.", "[[", "x=[{y=", '"""', "'''", "#")))
            text = text[:start] + opening * draw(st.sampled_from((3, 200, 2000))) + text[start:]
    return text


def job_texts() -> st.SearchStrategy:
    """Any of them: sound, odd, torn, or no job at all."""
    return st.one_of(jobs().map(text_of), odd_jobs(), odd_jobs(), torn_texts(), st.text(max_size=200), ANY_TEXT)


def hopeful_texts() -> st.SearchStrategy:
    """Texts of jobs many of which are sound."""
    return st.one_of(jobs().map(text_of), jobs().map(text_of), odd_jobs())


SHEET_JOB = """
[orders]
csv = "week.csv"
columns = { id = "Order no", cup = "Cup", quantity = "Qty", due = "Due" }
pattern = "sash"
vinyl = "matt-black"
[orders.names]
cup = { "Tall one" = "tall-tapered" }
"""
"""A job whose orders stand in a sheet."""


@st.composite
def sheets(draw) -> bytes:
    """What might stand in the sheet of that job: rows sound and odd, cells that hold anything, any coding."""
    cell = st.one_of(ANY_TEXT, st.sampled_from(("A-1", "2", "Tall one", "tall-tapered", "2027-05-14", "14/05/2027", "", '"', '"a""b"', "0", "1e9")))
    row = st.one_of(
        st.tuples(st.integers(0, 99).map("B-{}".format), st.just("Tall one"), st.sampled_from("123"), st.just("2027-05-14")),
        st.lists(cell, max_size=6),
    )
    mark = draw(st.sampled_from(",,,;\t|"))
    end = draw(st.sampled_from(("\n", "\r\n", "\r")))
    rows = [("Order no", "Cup", "Qty", "Due"), *draw(st.lists(row, max_size=8))]
    text = end.join(mark.join(cells) for cells in rows)
    data = text.encode(draw(st.sampled_from(("utf-8", "utf-8-sig", "utf-16", "latin-1", "cp1252"))), errors="replace")
    return draw(st.one_of(st.just(data), st.binary(max_size=60).map(lambda more: data[: len(data) // 2] + more)))


@st.composite
def stocks(draw) -> Tables:
    """The tables of a stock file."""
    note = st.text(st.characters(exclude_categories=("C", "Z")), max_size=20)
    tables: Tables = [("", _some(draw, units=st.sampled_from(("mm", "cm", "in"))))]
    tables += [("[[roll]]", {"vinyl": name, "length_left": draw(exact(0, 900))}) for name in draw(st.sets(st.sampled_from(NAMES), max_size=2))]
    for _ in range(draw(st.integers(0, 2))):
        sizes = {"vinyl": draw(st.sampled_from(NAMES)), "width": draw(exact(10, 300)), "length": draw(exact(10, 300))}
        tables.append(("[[offcut]]", sizes | _some(draw, quantity=st.integers(0, 9), shelf=note, left_of=note)))
    if draw(st.booleans()):
        tables.append(("[[sheet]]", {"vinyl": "ink", "quantity": draw(st.integers(0, 9))}))
        tables.append(("[[booked]]", {"result": "out/week", "manifest": "0" * 64} | _some(draw, sheets=st.lists(note, min_size=1, max_size=2))))
    return tables
