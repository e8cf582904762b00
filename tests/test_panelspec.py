import pytest

from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.presets import find_preset

ORDER = '\n[[order]]\nid = "O-1"\ncup = "quay"\npattern = "seam-stripes"\nvinyl = "navy-blue"\n'
CUP = "[cup.quay]\nrim = { diameter = 86 }\nbase = { diameter = 64 }\nwall = 150\n"


def job(cup: str = "", order: str = ""):
    return parse_job(CUP + cup + ORDER + order, "week.toml", find_preset)


def test_panels_stand_on_the_cup_or_on_an_order_which_comes_first():
    found = job('panels = [ { from = "front", to = "back", colour = "#AABBCC" }, { from = 20, to = 40, image = "a.png" } ]\n')
    first, second = found.cup_of(found.orders[0]).panels
    assert (first.from_around, first.to_around, first.colour.lower(), first.image) == ("front", "back", "#aabbcc", None)
    assert (second.image, second.colour, second.top_mm) == ("a.png", None, None)
    found = job(
        'panels = [ { from = 0, to = 90, colour = "#aabbcc" } ]\n',
        'panels = [ { from = "back", to = "front", image = "art/b.JPG", top = "1 cm", bottom = 90 } ]\n',
    )
    (own,) = found.cup_of(found.orders[0]).panels
    assert (own.image, own.top_mm, own.bottom_mm) == ("art/b.JPG", 10.0, 90.0)


@pytest.mark.parametrize(
    ("panel", "told"),
    [
        ('{ from = "front", to = "back" }', "must have a colour or an image"),
        ('{ from = "frnt", to = "back", colour = "#aabbcc" }', 'did you mean "front"'),
        ('{ from = 0, to = 90, colour = "blue" }', "#"),
        ('{ from = 0, to = 90, image = "art.svg" }', "PNG or JPEG"),
        ('{ from = 0, to = 90, image = "a\\u0000.png" }', "PNG or JPEG"),
        ('{ from = 0, to = 90, image = "a.png", top = 50, bottom = 20 }', "farther down than top"),
        ('{ from = 0, colour = "#aabbcc" }', "is missing"),
        ('{ from = 0, to = 90, colour = "#aabbcc", colur = 1 }', "colur"),
    ],
)
@pytest.mark.parametrize("on_order", [False, True])
def test_a_wrong_panel_is_told_in_one_line(panel, told, on_order):
    text = f"panels = [ {panel} ]\n"
    with pytest.raises(JobError) as error:
        job("" if on_order else text, text if on_order else "")
    lines = [str(fault) for fault in error.value.faults]
    assert all("\n" not in line and "panels" in line for line in lines) and any(told in line for line in lines)


def test_panels_that_are_no_list_of_tables_are_told():
    with pytest.raises(JobError, match="must be a list of tables"):
        job('panels = "art.png"\n')
