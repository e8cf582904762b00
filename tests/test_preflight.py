"""Everything wrong with a job in one go: each check by a job that it warns of and one just this side of it."""

from __future__ import annotations

import pytest

from stripegen.codes import CODES, FAULT
from stripegen.findings import Finding
from stripegen.jobfile import parse_job
from stripegen.preflight import preflight
from stripegen.presets import find_preset, preset_names

HEAD = """
[cup.can]
rim = { diameter = 80 }
base = { diameter = 80 }
height = 120
"""
TAPERED = HEAD.replace("base = { diameter = 80 }", "base = { diameter = 50 }")
HANDLED = HEAD + "keepout = [ { around = 270, width = 20, from = 40, to = 80 } ]\n"
VINYLS = """
[vinyl.plain]
colour = "#c03020"
width = 305

[vinyl.other]
colour = "#2040a0"
width = 305
"""
EDGE = 'name = "edge"\nkind = "vertical"\naround = ["front", "back"]\nwidth = 6\nvinyl = "plain"\n'
HOOP = 'name = "hoop"\nkind = "ring"\ndown = 50\nwidth = 4\nvinyl = "plain"\n'
PINS = 'name = "pins"\nkind = "vertical"\naround = [90]\nwidth = 3\nvinyl = "plain"\n'
SASH = (
    'name = "sash"\nkind = "diagonal"\nstart = { around = "front", down = "20%" }\n'
    'end = { around = "back", down = "80%" }\nwidth = 3\nvinyl = "plain"\n'
)


def pattern(*lines: str, name: str = "p") -> str:
    return "".join(f"\n[[pattern.{name}.line]]\n{line}" for line in lines)


def order(id: str = "A", cup: str = "can", pattern: str = "p", more: str = "") -> str:
    return f'\n[[order]]\nid = "{id}"\ncup = "{cup}"\npattern = "{pattern}"\n{more}'


def found(text: str, min_gap_mm: float = 0.0) -> list[Finding]:
    return list(preflight(parse_job(text, "job.toml", find_preset, preset_names), min_gap_mm).findings)


def job(*lines: str, head: str = HEAD, vinyls: str = VINYLS, more: str = "") -> str:
    return head + vinyls + pattern(*lines) + order(more=more)


SMOOTH = """
[cup.can]
profile = [ { height = 0, diameter = 60 }, { height = 50, diameter = 84 }, { height = 110, diameter = 78 } ]
smooth = true
"""
SLANT = (
    'name = "slant"\nkind = "diagonal"\nstart = { around = 0, down = 25 }\nend = { around = 114.6, down = 40 }\n'
    'path = "even-drop"\nwidth = 8\nvinyl = "plain"\nclear_of = ["post"]\nby = 0\n'
)


def whole(*lines: str, **more: str) -> str:
    """A job whose pattern is together."""
    text = job(*lines, **more)
    return text.replace("[[pattern.p.line]]", "[pattern.p]\ntogether = true\n\n[[pattern.p.line]]", 1)


def near(line: str, around: float, name: str = "near") -> str:
    return line.replace("pins", name).replace("[90]", f"[{around}]")


def plain(*, width: str = "305", more: str = "") -> str:
    """The vinyls, the first with something else said of it."""
    return VINYLS.replace("width = 305\n", f"width = {width}\n{more}", 1)


# by code: a job that has it, what is changed in it, and to what so that it has not
CASES = {
    "cannot-lay": (job(PINS + "to = 121\n"), "to = 121", "to = 114"),
    "cannot-cut": (whole(EDGE, HOOP, head=SMOOTH), "together = true", "together = false"),
    "nothing-to-cut": (job(PINS.replace("width = 3", "width = 0.9")), "width = 0.9", "width = 1"),
    "no-fit": (job(HOOP + "split = false\n", vinyls=plain(width="120", more="length = 100\n")), "length = 100", "length = 300"),
    "too-little": (
        job(EDGE.replace('["front", "back"]', "[0]") + "repeat = 5\n", vinyls=plain(more="length_left = 25\n")),
        "length_left = 25",
        "length_left = 40",
    ),
    "cut-off": (job(PINS + "from = 11\n"), "from = 11", "from = 12"),
    "ring-open": (job(HOOP, head=HANDLED), "down = 50", "down = 37"),
    "near-lip": (job(PINS, head=HEAD + "rim_clearance = 5.9\n"), "5.9", "6"),
    "near-base": (job(PINS, head=HEAD + "base_clearance = 1.9\n"), "1.9", "2"),
    "near-keepout": (job(HOOP.replace("50", "37.2"), head=HANDLED), "37.2", "36.9"),
    "hair-off": (job(EDGE, PINS + "from = 12.25\n"), "12.25", "12.35"),
    "dropped": (job(near(PINS, 126, "post"), SLANT), "around = [126]", "around = [170]"),
    "too-close": (job(PINS, near(PINS, 95.6)), "95.6", "95.9"),
    "gap-closes": (job(PINS + "stripes = 2\ngap = 1.4\nnarrows = true\n", head=TAPERED), "gap = 1.4", "gap = 1.6"),
    "thin-gap": (job(PINS + "stripes = 2\ngap = 0.9\n"), "gap = 0.9", "gap = 1"),
    "narrow-end": (
        job(PINS.replace("width = 3", "width = 1.4") + "narrows = true\n", head=TAPERED),
        "width = 1.4",
        "width = 1.6",
    ),
    "hidden": (job(PINS, near(PINS, 90).replace("width = 3", "width = 3.1")), "width = 3.1", "width = 2.8"),
    "lie-along": (
        job(PINS, SASH.replace('"front"', "87").replace('"back"', "93").replace("20%", "10%").replace("80%", "90%")),
        "around = 93",
        "around = 103",
    ),
    "small-tuck": (job(EDGE, SASH + 'under = ["edge"]\ntuck = 0.9\n'), "tuck = 0.9", "tuck = 1"),
    "open-seam": (
        job(EDGE, head=HEAD + "seams = { back = { rim = 180, base = 180, opening = 3.1 } }\n"),
        "opening = 3.1",
        "opening = 3",
    ),
    "joint-may-open": (job(HOOP + "overlap = 1.8\n"), "overlap = 1.8", "overlap = 1.9"),
    "stack-too-thick": (
        job(HOOP, head=HEAD + "seal = 0.15\n", vinyls=plain(more="thickness = 0.08\n")),
        "seal = 0.15",
        "seal = 0.16",
    ),
    "too-narrow": (job(PINS.replace("width = 3", "width = 0.9"), EDGE), "width = 0.9", "width = 1"),
    "strain": (job(PINS.replace("width = 3", "width = 40"), head=SMOOTH), "width = 40", "width = 4"),
    "split": (job(HOOP, vinyls=plain(width="120", more="length = 200\n")), "length = 200", "length = 300"),
    "corner-radius": (
        job(EDGE, vinyls=plain(more="corner_radius = 0.4\nshared_cuts = true\n")),
        "corner_radius = 0.4",
        "corner_radius = 0",
    ),
    "alike-colours": (
        job(EDGE, HOOP.replace("plain", "other"), vinyls=VINYLS.replace("#2040a0", "#b83a20")),
        "#b83a20",
        "#903a20",
    ),
    "alike-cup": (job(EDGE, head=HEAD + 'colour = "#c03324"\n'), "#c03324", "#b04040"),
    "unused-role": (
        job(EDGE.replace("plain", "main"), more='vinyl = { main = "plain", mian = "other" }\n'),
        ', mian = "other"',
        "",
    ),
}


@pytest.mark.parametrize("code", CASES)
def test_a_job_has_it_and_its_neighbour_not(code):
    text, old, new = CASES[code]
    assert text.count(old) == 1
    told = [each for each in found(text) if each.code == code]
    assert len(told) == 1, told
    (one,) = told
    assert one.is_fault == (CODES[code].severity == FAULT)
    assert one.where.file == "job.toml" and one.place.line
    assert one.remedy and one.message
    neighbour = found(text.replace(old, new))
    assert code not in {each.code for each in neighbour}, neighbour
    assert not any(each.is_fault for each in neighbour), neighbour


OF_OTHER = PINS.replace('"plain"', '"other"')
OF_SCARCE = PINS.replace('"plain"', '"scarce"')
MANY = "".join(
    [
        HEAD,
        HEAD.replace("cup.can", "cup.low").replace("height = 120", "height = 60"),
        plain(width="70", more="length = 70\n"),
        '\n[vinyl.scarce]\ncolour = "#208040"\nwidth = 305\nlength_left = 20\n',
        pattern(OF_OTHER + "to = 100\n", HOOP.replace("down = 50", "down = 90"), name="tall"),
        pattern(EDGE),
        pattern(OF_SCARCE + "repeat = 70\n", name="pinned"),
        order("A", pattern="tall", cup="low"),
        order("B", pattern="tall", cup="low"),
        order("C"),
        order("D", pattern="pinned"),
        order("E", pattern="tall", more='vinyl = { mian = "other" }\n'),
    ]
)


def test_all_that_is_wrong_is_told_in_one_run():
    told = found(MANY)
    assert {(each.code, each.order, each.line or each.vinyl) for each in told} == {
        ("cannot-lay", "A", "pins"),  # two lines of a cup that is too low ...
        ("cannot-lay", "A", "hoop"),
        ("no-fit", "C", "edge"),  # a piece longer than the sheet
        ("too-little", None, "scarce"),
        ("too-close", "D", "pins"),
        ("unused-role", "E", None),
        ("split", "E", "hoop"),
    }
    faults = [each for each in told if each.is_fault]
    assert told[: len(faults)] == faults
    assert {each.others for each in told if each.code == "cannot-lay"} == {("B",)}  # ... that two orders share
    assert {each.place.line for each in told if each.code == "cannot-lay"} == {
        number for number, line in enumerate(MANY.splitlines(), 1) if "pattern.tall.line" in line
    }


def test_a_piece_that_fits_nothing_hides_no_lack_of_vinyl():
    text = job(EDGE + "repeat = 9\n", HOOP + "split = false\n", vinyls=plain(width="120", more="length = 130\nquantity = 1\n"))
    text = text.replace('around = ["front", "back"]', "around = [0]")
    told = {each.code: each for each in found(text)}
    assert set(told) == {"no-fit"}
    told = {each.code: each for each in found(text.replace("width = 6", "width = 20"))}
    assert set(told) == {"no-fit", "too-little"}
    assert told["no-fit"].line == "hoop" and "A.1.edge.9" in told["too-little"].message


def test_a_tuck_within_one_piece_needs_no_hand():
    text = job(EDGE, SASH + 'under = ["edge"]\ntuck = 0.9\n')
    assert [each.code for each in found(text)] == ["small-tuck"]
    held = text.replace("[[pattern.p.line]]", "[pattern.p]\ntogether = true\n\n[[pattern.p.line]]", 1)
    assert not found(held)


def test_the_least_gap_asked_for_holds_between_stripes_that_narrow():
    text = job(PINS + "stripes = 2\ngap = 4\nnarrows = true\n", head=TAPERED)
    assert not found(text, 2.5)
    (told,) = found(text, 2.7)
    assert told.code == "gap-closes" and [figure.value for figure in told.figures[1:2]] == [2.7]


def test_twice_the_same_place_is_told():
    (told,) = found(job(PINS.replace("[90]", "[90, 90.0001]")))
    assert told.code == "hidden" and "another of its own" in told.message


def test_shipped_cups_and_patterns_give_no_warning():
    pairs = ["small-tumbler seam-stripes", "tall-tapered sash", "slim-straight candy", "mid-straight chevrons"]
    text = "".join(
        order(f"O-{number}", *pair.split(), 'vinyl = { accent = "matt-black", second = "brushed-gold" }\n')
        for number, pair in enumerate(pairs)
    )
    assert [each for each in found(text) if each.code != "unused-role"] == []
