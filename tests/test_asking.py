"""The questions in their order, what is said of a wrong answer, and what options leave to ask."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.asking import HOW_TO_MEASURE, Options, ask_job
from stripegen.errors import Fault, JobError, Where
from stripegen.newjob import new_job
from stripegen.presets import find_preset, list_presets

PRESETS = cache(list_presets)
MEASURES = {"girths": ("14:268", "140:203"), "figures": {"wall": "153"}}
CUP = ["14", "268", "140", "203", "153"]
COAT = ["", "", ""]
ORDER = ["seam-stripes", "", "", ""]


def never_wrong(answers) -> None:
    new_job(answers, "x.toml", find_preset)


class Person:
    """Answers from a list, in order; what was asked and said is kept."""

    def __init__(self, *replies: str):
        self.replies = list(replies)
        self.asked: list[str] = []
        self.told: list[str] = []  # with each question, in order

    def ask(self, prompt: str, default: str | None) -> str:
        self.asked.append(prompt)
        self.told.append(f"? {prompt} [{default}]")
        assert self.replies, f"asked once too often: {self.told[-5:]}"
        reply = self.replies.pop(0)
        assert reply or default is not None, f"Enter has no meaning for: {prompt}"
        return reply or default

    def meets(self, prove=never_wrong, **options):
        answers = ask_job(Options(**options), PRESETS(), find_preset, prove, self.ask, self.told.append)
        assert not self.replies, self.replies
        return answers

    def told_after(self, reply_number: int) -> str:
        """What was said between an answer and the next question."""
        marks = [n for n, line in enumerate(self.told) if line.startswith("? ")]
        return "\n".join(self.told[marks[reply_number] + 1 : marks[reply_number + 1]])


def unasked(prove=never_wrong, **options):
    said = []
    answers = ask_job(Options(**options), PRESETS(), find_preset, prove, None, said.append)
    assert not said
    return answers


def faults(**options) -> list[str]:
    with pytest.raises(JobError) as told:
        unasked(**options)
    lines = str(told.value).splitlines()
    assert len(lines) == len(told.value.faults) and all(line.startswith("command line --") for line in lines)
    return [line.removeprefix("command line ") for line in lines]


def test_the_measures_are_asked_in_the_order_in_which_they_are_taken():
    person = Person("mm", "measure", *CUP, "0.8", "15", "", "sash", "navy-blue", "", "Q-1", "4")
    answers = person.meets()
    words = ["tape read", "Which cup", "upper girth", "round the cup", "lower girth", "round the cup", "How long is the wall",
             "resin", "bare at the rim", "bare at the base", "Which pattern", '"accent"', '"second"', "id", "How many"]  # fmt: skip
    assert len(person.asked) == len(words)
    for word, prompt in zip(words, person.asked, strict=True):
        assert word.casefold() in prompt.casefold()
    assert answers.figures == {
        "upper_down": "14", "upper_girth": "268", "lower_down": "140", "lower_girth": "203", "wall": "153",
        "resin": "0.8", "rim_clearance": "15", "base_clearance": "6",
    }  # fmt: skip
    assert answers.vinyls == {"accent": "navy-blue", "second": "brushed-gold"}
    assert (answers.cup, answers.pattern, answers.id, answers.quantity) == ("own", "sash", "Q-1", 4)
    assert HOW_TO_MEASURE in person.told_after(1)


def test_presets_are_listed_with_what_they_are():
    person = Person("", "tall-tapered", "4", "1", "", "", "")
    answers = person.meets()
    told = "\n".join(person.told)
    for preset in PRESETS():
        if preset.kind != "job":
            assert f"{preset.name} " in told and preset.about in told
    patterns = [preset.name for preset in PRESETS() if preset.kind == "pattern"]
    assert (answers.cup, answers.figures, answers.pattern) == ("tall-tapered", None, patterns[3])


@pytest.mark.parametrize(
    ("number", "wrong", "right"),
    [
        (0, "inch", "must be mm, cm, in"),
        (1, "tall-taperd", 'did you mean "tall-tapered"?'),
        (2, "14 ft", 'must have the unit "mm", "cm" or "in"'),
        (3, "8", 'read "8"; must be from 75 to 650 mm on a drinking cup; did you mean 8 cm or 8 in?'),
        (3, "26,8", "a decimal point, not a comma"),
        (4, "14", "must be farther down than the upper girth, which is at 14"),
        (6, "1530", "must be from 20 to 400 mm"),
        (7, "8", "must be from 0 to 5 mm"),
        (8, "-1", "must be from 0"),
        (10, "sahs", 'did you mean "sash"?'),
        (10, "0", "must be one of the list"),
        (10, "²", "must be one of the list"),
        (11, "gold", "must be one of the list"),
        (12, "A 1", "ASCII letters"),
        (13, "0", "must be a whole number from 1"),
        (13, "1.5", "must be a whole number from 1"),
    ],
)
def test_a_wrong_answer_is_told_at_once_and_asked_again(number, wrong, right):
    replies = ["mm", "measure", *CUP, *COAT, *ORDER]
    person = Person(*replies[:number], wrong, *replies[number:])
    assert person.meets() == Person(*replies).meets()
    assert right in person.told_after(number)
    assert person.asked[number] == person.asked[number + 1]


def test_girths_that_give_no_wall_are_asked_again_from_the_first():
    person = Person("mm", "measure", "14", "268", "24", "180", "", "", "140", "203", "153", *COAT, *ORDER)
    answers = person.meets()
    assert "girths change by more than any wall can" in person.told_after(5)
    assert "[14]" in next(line for line in reversed(person.told) if "upper girth" in line)  # Enter keeps it
    assert answers.figures["lower_down"] == "140" and answers.figures["upper_girth"] == "268"


def test_a_wall_shorter_than_the_places_of_the_girths():
    # The slip was in the wall ...
    person = Person("mm", "measure", *CUP[:4], "130", "", "", "", "", "153", *COAT, *ORDER)
    assert person.meets().figures["wall"] == "153"
    assert "the wall, read as 130, must reach the lower girth, which is at 140" in person.told_after(6)
    # ... or in the place.
    person = Person("mm", "measure", *CUP[:4], "130", "", "", "120", "", "", *COAT, *ORDER)
    answers = person.meets()
    assert (answers.figures["lower_down"], answers.figures["wall"]) == ("120", "130")


def test_clearances_that_leave_nothing_are_asked_again():
    person = Person("mm", "measure", *CUP, "", "80", "80", "", "12", "6", *ORDER)
    assert person.meets().figures["rim_clearance"] == "12"
    assert "leaves nothing of a wall of 153.00 mm" in person.told_after(9)


@pytest.mark.parametrize(("units", "rim"), [("mm", "12"), ("cm", "1.2"), ("in", "1/2")])
def test_what_stays_bare_is_offered_in_the_tape_s_units(units, rim):
    cup = [f"{text} mm" for text in CUP]
    assert Person(units, "measure", *cup, *COAT, *ORDER).meets().figures["rim_clearance"] == rim


def test_what_options_say_is_not_asked():
    person = Person("")
    answers = person.meets(units="mm", **MEASURES | {"figures": {"wall": "153", "resin": "1", "rim_clearance": "9", "base_clearance": "5"}},
                           pattern="sash", vinyls=("second=navy-blue", "accent=matt-black"), id="Q-1")  # fmt: skip
    assert person.asked == ["How many cups"]
    assert answers.vinyls == {"accent": "matt-black", "second": "navy-blue"}


def test_a_wrong_option_is_told_and_asked():
    person = Person("", "153", *COAT, *ORDER)
    answers = person.meets(girths=MEASURES["girths"], figures={"wall": "15.3"})
    assert any("--wall: read" in line and "did you mean 15.3 cm or 15.3 in?" in line for line in person.told)
    assert answers.figures["wall"] == "153"


def test_what_goes_wrong_when_the_job_is_proved_can_be_changed():
    tried = []

    def prove(answers) -> None:
        tried.append((answers.pattern, answers.figures["wall"], answers.vinyls))
        if len(tried) < 3:
            raise JobError(Fault(Where("x", ""), "", "", f"wrong {len(tried)}"))

    order = ["sash", "navy-blue", "matt-black", "", ""]
    person = Person("mm", "", *CUP, *COAT, *order, "", "seam-stripes", "", "", "", "cup", "", *[""] * 4, "160", *COAT)
    person.meets(prove)
    assert [(pattern, wall) for pattern, wall, _ in tried] == [
        ("sash", "153"), ("seam-stripes", "153"), ("seam-stripes", "160"),
    ]  # fmt: skip
    assert tried[1][2] == {"accent": "navy-blue"}  # Enter kept it
    told = "\n".join(person.told)
    assert "wrong 1" in told and "wrong 2" in told


def test_defaults_are_taken_only_where_they_may_be():
    answers = unasked(**MEASURES, takes_defaults=True)
    assert (answers.units, answers.pattern, answers.id, answers.quantity) == ("mm", "seam-stripes", "A-1", 1)
    assert answers.vinyls == {"accent": "matt-black"}
    assert faults(**MEASURES) == ["--pattern: is missing", "--vinyl: is missing", "--id: is missing"]
    assert faults(takes_defaults=True) == [
        '--girth: is missing: "14:268", twice, with --wall; or --cup NAME in their place'
    ]
    assert faults(girths=MEASURES["girths"], takes_defaults=True) == ["--wall: is missing"]


@pytest.mark.parametrize(
    ("options", "right"),
    [
        ({"girths": ("14:268",)}, '--girth: read "14:268"; must be given twice as DOWN:GIRTH'),
        ({"girths": ("14:268", "203")}, '--girth: read "14:268" and "203"; must be given twice as DOWN:GIRTH'),
        ({"girths": ("14:268", "140:8")}, '--girth: read "8"; must be from 75'),
        ({"girths": ("140:203", "14:268")}, '--girth: read "14"; must be farther down'),
        ({"girths": ("14:268", "24:180")}, "--girth: girths change by more"),
        ({"figures": {"wall": "130"}}, "--wall: the wall, read as 130, must reach the lower girth, which is at 140"),
        ({"figures": {"wall": "153", "rim_clearance": "99", "base_clearance": "99"}}, "--base-clearance: base_clearance together"),
        ({"figures": {"wall": "153", "resin": "x"}}, '--resin: read "x"; must be a number'),
        ({"pattern": "sahs"}, '--pattern: read "sahs"; must be one of the list; did you mean "sash"?'),
        ({"vinyls": ("matt-balck",)}, '--vinyl: read "matt-balck"; must be one of the list; did you mean "matt-black"?'),
        ({"vinyls": ("acent=matt-black",)}, '--vinyl: read "acent"; must bind a role of the pattern "seam-stripes", whose'),
        ({"vinyls": ("accent=a", "accent=b")}, '--vinyl: the role "accent" is bound twice'),
        ({"id": "a b"}, '--id: read "a b"; must be a name'),
        ({"quantity": "0"}, '--quantity: read "0"; must be a whole number'),
    ],
)  # fmt: skip
def test_a_wrong_option_is_one_fault_where_no_one_is_asked(options, right):
    (told,) = faults(**MEASURES | {"takes_defaults": True} | options)
    assert told.startswith(right)


def test_every_wrong_option_is_told():
    told = faults(girths=("14:8", "140:203"), figures={"wall": "8", "resin": "9"}, pattern="x", id="?", quantity="y")
    assert [line.partition(":")[0] for line in told] == [
        "--girth", "--wall", "--resin", "--pattern", "--vinyl", "--id", "--quantity",
    ]  # fmt: skip


def test_a_preset_cup_needs_no_measures():
    answers = unasked(cup="bellied-mug", takes_defaults=True)
    assert (answers.cup, answers.figures) == ("bellied-mug", None)


def test_what_proof_finds_is_raised_where_no_one_is_asked():
    def prove(_):
        raise JobError(Fault(Where("x", ""), "", "", "no room"))

    with pytest.raises(JobError, match="no room"):
        unasked(prove, **MEASURES, takes_defaults=True)


def test_a_role_has_a_vinyl_of_its_own_unless_said_otherwise():
    assert unasked(cup="tall-tapered", pattern="sash", takes_defaults=True).vinyls == {
        "accent": "matt-black", "second": "brushed-gold",
    }  # fmt: skip
    one = unasked(cup="tall-tapered", pattern="sash", vinyls=("navy-blue",), takes_defaults=True)
    assert one.vinyls == dict.fromkeys(("accent", "second"), "navy-blue")
    told = faults(cup="tall-tapered", pattern="sash", vinyls=("accent=navy-blue",), id="A-1")
    assert told == ['--vinyl: is missing for the role "second": second=NAME, or one NAME for every role']


@settings(max_examples=40)
@given(st.lists(st.text(max_size=12) | st.sampled_from(["", "14", "268", "140", "1/2", "sash", "in"]), max_size=12))
def test_no_answer_breaks_the_dialogue(replies):
    """Whatever is typed, it is either taken or asked again; the right answers after it make a job."""

    class Gone(Exception):
        pass

    left = list(replies)

    def ask(prompt: str, default: str | None) -> str:
        if not left:
            raise Gone
        return left.pop(0) or default or ""

    try:
        ask_job(Options(), PRESETS(), find_preset, never_wrong, ask, lambda text: None)
    except Gone:
        assert not left
