"""The spacing of every order, measured once, and its warnings."""

from __future__ import annotations

import pytest

from stripegen.jobfile import parse_job
from stripegen.presets import find_preset, preset_names
from stripegen.previewing import preview_job
from stripegen.production import produce
from stripegen.spacings import Spacings

JOB = """
[vinyl.fine]
colour = "#304050"
width = 305
min_width = 0.4

[vinyl.coarse]
colour = "#a04050"
width = 305
min_width = 3

[pattern.pins]
[[pattern.pins.line]]
name = "pin"
kind = "vertical"
repeat = 40
width = 3
vinyl = "main"

[[order]]
id = "one"
cup = "tall-tapered"
pattern = "pins"
vinyl = "fine"

[[order]]
id = "two"
cup = "tall-tapered"
pattern = "pins"
vinyl = "coarse"

[[order]]
id = "three"
cup = "tall-tapered"
pattern = "seam-stripes"
vinyl = "coarse"
"""


@pytest.fixture(scope="module")
def production():
    return produce(parse_job(JOB, "job.toml", find_preset))


def test_orders_that_are_decorated_alike_are_measured_once(production):
    spacings = Spacings(production)
    assert spacings.of("one") is spacings.of("two") is spacings.of("one")
    assert spacings.of("three") is not spacings.of("one")


def test_each_order_is_warned_by_its_own_vinyl(production):
    assert [(notice.order, notice.line) for notice in Spacings(production).notices()] == [("two", "pin")]
    assert [notice.order for notice in Spacings(production).notices(3.0)] == ["one", "two"]


def test_a_preview_holds_the_warnings(production):
    result = preview_job(production, None, min_gap_mm=3.0).result
    assert [notice.order for notice in result.notices if notice.code == "too-close"] == ["one", "two"]
    assert b'"code": "too-close"' in result.files["preview.json"]


@pytest.mark.parametrize("cup", ["tall-tapered", "bellied-mug", "handled-tall", "shouldered"])
def test_no_preset_is_too_close(cup):
    orders = "".join(
        f'[[order]]\nid = "{name}"\ncup = "{cup}"\npattern = "{name}"\nvinyl = "roll"\n' for name in preset_names("pattern")
    )
    job = parse_job(f'[vinyl.roll]\ncolour = "#304050"\nwidth = 610\n{orders}', "every.toml", find_preset)
    assert not Spacings(produce(job)).notices()
