"""A first job's text says what was answered, and nothing that is not a drinking cup is taken."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.newjob import FIGURES, Answers, cup_fault, figure_mm, job_text, new_job, roles_of
from stripegen.presets import find_preset, preset_names
from stripegen.walls import bare_wall

MM = {"mm": 1, "cm": 10, "in": Fraction(254, 10)}
FIGURES_MM = {
    "upper_down": "14", "upper_girth": "268", "lower_down": "140", "lower_girth": "203", "wall": "153",
    "resin": "0.8", "rim_clearance": "12", "base_clearance": "6",
}  # fmt: skip


def answers(**changes) -> Answers:
    usual = {"units": "mm", "cup": "own", "figures": FIGURES_MM, "pattern": "sash", "id": "A-1", "quantity": 2}
    return Answers(**usual | {"vinyls": {"accent": "matt-black", "second": "navy-blue"}} | changes)


def with_all_that_may_be_said(text: str) -> str:
    """The text with the mark taken off each line that is TOML left out for now."""
    lines = (line[1:] if line[:1] == "#" and line[1:2].strip() else line for line in text.splitlines())
    return "\n".join(lines)


@st.composite
def written(draw, least_mm: float, most_mm: float, units: str) -> tuple[str, Fraction]:
    """A length as people write it, and what it is in mm."""
    own = draw(st.sampled_from(["", "", "mm", "cm", "in"]))
    step = draw(st.sampled_from([Fraction(1), Fraction(1, 10), Fraction(1, 16), Fraction(1, 8)]))
    unit_mm = MM[own or units] * step
    count = draw(st.integers(-int(-Fraction(least_mm) // unit_mm), int(Fraction(most_mm) // unit_mm)))
    whole, rest = divmod(count * step, 1)
    if step.denominator in (1, 10):
        text = f"{float(count * step):g}"
    else:
        text = f"{whole} {rest.numerator}/{rest.denominator}" if rest else f"{whole}"
    if text.startswith("0.") and draw(st.booleans()):
        text = text[1:]
    return f"{text} {own}".strip(), count * unit_mm


@st.composite
def measured(draw) -> tuple[str, dict[str, str], dict[str, Fraction]]:
    units = draw(st.sampled_from(["mm", "cm", "in"]))
    bounds = {
        "upper_down": (0, 30), "upper_girth": (180, 330), "lower_down": (80, 150), "lower_girth": (180, 330),
        "wall": (152, 300), "resin": (0, 3), "rim_clearance": (0, 25), "base_clearance": (0, 25),
    }  # fmt: skip
    said = {key: draw(written(*bound, units)) for key, bound in bounds.items()}
    return units, {key: text for key, (text, _) in said.items()}, {key: mm for key, (_, mm) in said.items()}


@settings(max_examples=60)
@given(measured())
def test_the_girths_are_where_they_were_read(cup):
    units, figures, exact_mm = cup
    if cup_fault(figures, units):  # slopes that draw out to no base
        with pytest.raises(ValueError, match="."):
            answers(units=units, figures=figures)
        return
    text, job = new_job(answers(units=units, figures=figures), "x.toml", find_preset)
    own = job.cups["own"]
    wall = bare_wall(own)
    for end in ("upper", "lower"):
        read_mm = float(exact_mm[f"{end}_girth"])
        assert float(wall.girth_mm(float(exact_mm[f"{end}_down"]))) == pytest.approx(read_mm, abs=1e-6)
    assert own.wall_mm == pytest.approx(float(exact_mm["wall"]), abs=1e-9)
    for key in ("resin", "rim_clearance", "base_clearance"):
        assert getattr(own, f"{key}_mm") == pytest.approx(float(exact_mm[key]), abs=1e-9)
    assert job.units == units
    parse_job(with_all_that_may_be_said(text), "x.toml", find_preset)


@pytest.mark.parametrize("units", ["mm", "cm", "in"])
def test_what_comments_offer_reads_with_a_preset_too(units):
    text, job = new_job(answers(units=units, cup="tall-tapered", figures=None), "x.toml", find_preset)
    assert job.orders[0].cup == "tall-tapered" and set(job.cups) == {"tall-tapered"}
    more = parse_job(with_all_that_may_be_said(text), "x.toml", find_preset)
    assert more.title == "Harbour cups" and more.cutter.cut_width_mm and len(more.orders) == 2
    assert more.orders[0].due


def test_what_comments_offer_is_all_read():
    more = parse_job(with_all_that_may_be_said(job_text(answers(id="next"))), "x.toml", find_preset)
    own = more.cups["own"]
    assert own.seal_mm == 1.2 and len(own.keepouts) == 1 and "opening" in job_text(answers())
    assert [order.id for order in more.orders] == ["next", "next-2"]


def test_the_order_is_what_was_said():
    _, job = new_job(answers(), "x.toml", find_preset)
    (order,) = job.orders
    assert (order.id, order.cup, order.pattern, order.quantity) == ("A-1", "own", "sash", 2)
    assert order.bindings == {"accent": "matt-black", "second": "navy-blue"}


def test_a_vinyl_that_is_not_there_is_told():
    with pytest.raises(JobError, match='did you mean "navy-blue"'):
        new_job(answers(vinyls={"accent": "navy-bleu", "second": "navy-blue"}), "x.toml", find_preset, preset_names)


@pytest.mark.parametrize(
    ("key", "text", "units", "right"),
    [
        ("upper_girth", "8", "mm", "did you mean 8 cm or 8 in?"),
        ("upper_girth", "26.8", "mm", "did you mean 26.8 cm?"),
        ("upper_girth", "268", "in", "did you mean 268 mm?"),
        ("wall", "1530", "mm", "must be from 20 to 400 mm on a drinking cup"),
        ("lower_down", "140", "in", "did you mean 140 mm?"),
        ("resin", "8", "in", "must be from 0 to 0.2 in"),
        ("wall", "6 ft", "mm", "must have the unit"),
        ("wall", "15,3", "cm", "a decimal point, not a comma"),
        ("wall", "-153", "mm", "must be from 0"),
        ("wall", "20%", "mm", "a share of the wall has no meaning here"),
        ("wall", "", "mm", "must be a number"),
    ],
)
def test_a_figure_that_no_cup_has_is_refused(key, text, units, right):
    with pytest.raises(ValueError) as told:
        figure_mm(key, text, units)
    assert right in str(told.value) and "\n" not in str(told.value)


def test_a_figure_with_its_own_unit_is_not_guessed_at():
    with pytest.raises(ValueError) as told:
        figure_mm("wall", "1 cm", "mm")
    assert "did you mean" not in str(told.value)


@pytest.mark.parametrize("key", FIGURES)
@pytest.mark.parametrize("units", ["mm", "cm", "in"])
def test_ranges_hold_their_ends(key, units):
    least_mm, most_mm = FIGURES[key]
    for bound_mm in (least_mm, most_mm):
        assert figure_mm(key, f"{bound_mm} mm", units) == bound_mm
    with pytest.raises(ValueError, match="drinking cup"):
        figure_mm(key, f"{most_mm + 0.1} mm", units)


@pytest.mark.parametrize(
    ("changes", "right"),
    [
        ({}, None),
        ({"wall": "139"}, "the wall, read as 139, must reach the lower girth, which is at 140"),
        ({"lower_down": "14"}, "the lower girth must be farther down"),
        ({"lower_down": "20", "lower_girth": "203"}, "girths change by more than any wall can"),
        ({"wall": "400", "lower_girth": "150"}, "girths draw out to a base of -"),
        ({"rim_clearance": "80", "base_clearance": "80"}, "leaves nothing of a wall of 153.00 mm"),
    ],
)
def test_figures_that_do_not_go_together_are_told(changes, right):
    figures = FIGURES_MM | changes
    found = cup_fault(figures, "mm")
    if right is None:
        assert found is None
        return
    assert right in found
    with pytest.raises(ValueError, match="."):
        answers(figures=figures)


def test_girths_are_judged_before_the_wall_is_known():
    girths = {key: FIGURES_MM[key] for key in FIGURES_MM if "er_" in key}
    assert cup_fault(girths, "mm") is None
    assert "change by more" in cup_fault(girths | {"lower_down": "20"}, "mm")


@pytest.mark.parametrize(
    "changes",
    [{"id": 'x"\n[cup.y]'}, {"cup": "a b"}, {"pattern": ""}, {"vinyls": {"a": "#"}}, {"quantity": 0}, {"units": "ft"}],
)
def test_answers_check_themselves(changes):
    with pytest.raises(ValueError, match="must be"):
        answers(**changes)


def test_every_pattern_tells_its_roles():
    for name in preset_names("pattern"):
        roles = roles_of(name, find_preset)
        new_job(answers(pattern=name, vinyls=dict.fromkeys(roles, "matt-black")), "x.toml", find_preset)
        assert roles and not set(roles) & set(preset_names("vinyl"))
    with pytest.raises(JobError, match="no such pattern"):
        roles_of("nothing", find_preset)
