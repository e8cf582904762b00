"""An order's own copy of a pattern is what one would have written by hand; its faults are told at the order."""

import json
import re

import pytest
from conftest import JOB
from hypothesis import given, settings
from hypothesis import strategies as st
from placeless import placeless

from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.looks import looks_of
from stripegen.previewing import preview_job
from stripegen.production import produce
from stripegen.spacings import Spacings
from stripegen.worklist import work_list

HEAD = JOB.partition("[[order]]")[0]
ORDER = '[[order]]\nid = "{}"\ncup = "crew"\npattern = "{}"\nvinyl = {{ accent = "brass" }}\n{}\n'


def parse(text, find_preset=lambda kind, name: None):
    return parse_job(text, "week.toml", find_preset)


def one(change):
    return parse(HEAD + ORDER.format("R-1", "regatta", f"change = {change}"))


def told(change):
    with pytest.raises(JobError) as caught:
        produce(one(change))
    return placeless(str(caught.value)).split("\n")


# what a line's key is changed to, and the text of it in the pattern that is written by hand
KEYS = {
    "edge": {"width": ["7", '"0.3 in"'], "around": ['["front"]', "[10, 200.5]"], "vinyl": ['"ink"'], "spare": ["2"], "ends": ['"square"']},
    "sash": {"width": ["2.5"], "gap": ["1"], "stripes": ["3"], "start": ['{ around = "front", down = 40 }'], "under": ['["edge", "swirl"]'],
             "tuck": ["0.5"], "path": ['"same-slant"'], "mirror": ["true"], "together": ["true"]},
    "swirl": {"width": ["4"], "end": ["{ around = 200, down = '80%' }"], "vinyl": ['"accent"'], "split": ["true"]},
}  # fmt: skip
keys = st.fixed_dictionaries(
    {line: st.fixed_dictionaries({}, optional={key: st.sampled_from(texts) for key, texts in own.items()}) for line, own in KEYS.items()}
)
OWN = {"rim_clearance": ["20", '"1 in"'], "base_clearance": ["9"], "together": ["false", "true"]}
own_keys = st.fixed_dictionaries({}, optional={key: st.sampled_from(texts) for key, texts in OWN.items()})


def by_hand(changes, own) -> str:
    """A pattern of the name "other" like regatta, with the keys replaced in its text."""
    _before, _heading, lines = HEAD.partition("[pattern.regatta]\n")
    made = "[pattern.other]\n" + "".join(f"{key} = {text}\n" for key, text in own.items())
    for block in lines.split("[[pattern.regatta.line]]\n")[1:]:
        name = re.search(r'name +?= "(\w+)"', block)[1]
        for key, text in changes.get(name, {}).items():
            block = re.sub(rf"(?m)^{key} *=.*\n", "", block) + f"{key} = {text}\n"
        made += "[[pattern.other.line]]\n" + block.strip() + "\n"
    return HEAD + made


def as_toml(changes, own) -> str:
    tables = [f"{line} = {{ {', '.join(f'{key} = {text}' for key, text in new.items())} }}" for line, new in changes.items() if new]
    return "{ " + ", ".join([f"{key} = {text}" for key, text in own.items()] + tables) + " }"


def read(text):
    """The pattern of a job's only order, or what is wrong with it."""
    try:
        job = parse(text)
    except JobError as error:
        return {(fault.key, fault.read, fault.right) for fault in error.faults}
    return job.pattern_of(job.orders[0])


@settings(max_examples=50)
@given(keys, own_keys)
def test_a_change_is_the_pattern_written_by_hand(changes, own):
    changed = read(HEAD + ORDER.format("A", "regatta", f"change = {as_toml(changes, own)}"))
    written = read(by_hand(changes, own) + ORDER.format("A", "other", ""))
    if isinstance(written, set):
        assert changed == written
        return
    assert changed.lines == written.lines
    for key in ("rim_clearance_mm", "base_clearance_mm", "together"):
        assert getattr(changed, key) == getattr(written, key)
    assert changed.name == "regatta"
    assert set(changed.changes) == {name for name, new in changes.items() if new} | {key.replace("_", " ") for key in own}


def test_its_pieces_are_those_of_the_pattern_written_by_hand():
    changes = {"edge": {"width": "7"}, "sash": {"stripes": "3", "tuck": "0.5"}}
    text = by_hand(changes, {}) + ORDER.format("A", "regatta", f"change = {as_toml(changes, {})}") + ORDER.format("B", "other", "")
    made: dict[str, list] = {}
    for piece in produce(parse(text + ORDER.format("C", "regatta", ""))).pieces:
        made.setdefault(piece.order, []).append((piece.name, piece.vinyl, piece.flat.cut_points))
    assert made["A"] == made["B"] != made["C"]


def test_a_line_is_left_out_and_covers_nothing():
    job = one("{ edge = false }")
    pattern = job.pattern_of(job.orders[0])
    assert [line.name for line in pattern.lines] == ["sash", "swirl"]
    assert not pattern.lines[0].under
    assert pattern.title == "regatta (changed: no edge)"
    assert {piece.line for piece in produce(job).pieces} == {"sash", "swirl"}


def test_a_line_is_written_anew_where_its_kind_is_given():
    job = one('{ sash = { kind = "ring", down = 30, width = 2, vinyl = "accent" } }')
    assert [(line.name, type(line).__name__) for line in job.pattern_of(job.orders[0]).lines][1] == ("sash", "Ring")


def test_bare_lengths_are_in_the_unit_of_the_file_in_which_they_stand():
    preset = (
        'units = "in"\n[pattern.hoops]\nrim_clearance = 1\n[[pattern.hoops.line]]\nname = "hoop"\nkind = "ring"\ndown = [1, 2]\nwidth = 0.25\n'
        'overlap = 0.5\nvinyl = "accent"\n[[pattern.hoops.line]]\nname = "post"\nkind = "vertical"\n'
        'around = { along = 1, at = 1 }\nwidth = 0.25\nvinyl = "accent"\n'
    )
    change = "{ rim_clearance = 20, hoop = { down = [40, '50%'] }, post = { from = 30, around = { along = 30, at = 0 } } }"
    text = HEAD + ORDER.format("A", "hoops", f"change = {change}")
    job = parse(text, lambda kind, name: (preset, "hoops.toml") if name == "hoops" else None)
    pattern = job.pattern_of(job.orders[0])
    hoop, post = pattern.lines
    assert (pattern.rim_clearance_mm, hoop.width_mm, hoop.overlap_mm, post.width_mm) == (20, 6.35, 12.7, 6.35)
    assert [down.value for down in hoop.downs] == [40, 0.5]
    assert (post.start.value, post.around[0].along_mm) == (30, 30)


@pytest.mark.parametrize(
    ("change", "lines"),
    [
        ("3", ["change: read 3; must be a table such as { sash = { width = 4 } }"]),
        ("{ sash = 4 }", ["change.sash: read 4; must be a table of what is changed, such as { width = 4 }, or false to leave the line out"]),
        ("{ sash = true }", ["change.sash: read true; must be a table of what is changed, such as { width = 4 }, or false to leave the line out"]),
        ("{ sahs = false }", ['change.sahs: read false; must be a line of the pattern "regatta": edge, sash, swirl; did you mean "sash"?']),
        ('{ sash = { name = "band" } }', ['change.sash: read { name = "band" }; gives the line another name, which a change can\'t: leave name out']),
        ("{ edge = false, sash = false, swirl = false }",
         ["change: read { edge = false, sash = false, swirl = false }; leaves no line of the pattern: an order without stripes is no order"]),
        ("{ sash = { width = 0, widht = 4, gap = -1 } }",
         ["change.sash width: read 0; must be a length above 0", "change.sash gap: read -1; must be a length of 0 or more",
          'change.sash widht: is not a key of this table; did you mean "width"?']),
        ("{ edge = { width = 2 } }",
         [('change, line "sash" tuck: read 1.5 mm (the default); must be less than 1 mm, half the width of the line "edge": with more there '
          "is nothing left to cut away")]),
        ("{ edge = { around = 'rear' } }", ['change.edge around: read "rear"; must be a seam of the cup "crew", which has front, back']),
        ("{ edge = { vinyl = 'main' } }",
         ['vinyl: read { accent = "brass" }; must bind the role "main" of pattern "regatta" to a vinyl: main = "NAME"']),
        ("{ rim_clearance = -1 }", ["change.rim_clearance: read -1; must be a length of 0 or more"]),
        ("{ edge = false, sash = { under = ['edge'] } }",
         ['change.sash under: read "edge"; must name lines of this pattern: sash, swirl']),
    ],
)  # fmt: skip
def test_faults_are_told_at_the_order(change, lines):
    assert told(change) == [f'week.toml: [[order]] "R-1" {line}' for line in lines]


def test_what_can_not_be_laid_is_told_at_the_order():
    (line,) = told("{ swirl = { start = { around = 30, down = 900 } } }")
    assert line.startswith('week.toml: [[order]] "R-1" change.swirl: on cup crew, ')


def test_one_change_of_many_orders_is_laid_once_and_told_once():
    text = HEAD + "".join(ORDER.format(f"R-{n}", "regatta", "change = { sash = { width = 4 } }") for n in range(3))
    production = produce(parse(text))
    assert len({id(decoration) for decoration in production.decorations.values()}) == 1
    text = text.replace("width = 4", "start = { around = 'front', down = 900 }")
    with pytest.raises(JobError) as caught:
        produce(parse(text))
    assert len(caught.value.faults) == 1


def test_orders_that_differ_by_a_change_look_different_wherever_they_are_shown():
    text = HEAD + ORDER.format("A", "regatta", "") + ORDER.format("B", "regatta", "change = { sash = { gap = 6, vinyl = 'accent' } }")
    production = produce(parse(text + ORDER.format("C", "regatta", "change = { sash = { gap = 6 } }")))
    assert [[order.id for order in look.orders] for look in looks_of(production)] == [["A"], ["B", "C"]]
    spacings = Spacings(production)
    assert spacings.of("A") is not spacings.of("B") is spacings.of("C")
    made = preview_job(production, None)
    previews = json.loads(made.result.files["preview.json"])["previews"]
    assert [(row["pattern"], row["changes"]) for row in previews] == [("regatta", []), ("regatta", ["sash"])]
    assert [look["pattern"] for look in made.data["looks"]] == ["regatta", "regatta (changed: sash)"]
    assert previews[0]["spacing"] != previews[1]["spacing"]
    assert [order.pattern for order in work_list(production).orders] == ["regatta"] + ["regatta (changed: sash)"] * 2
