"""What several test modules share: a small job as text."""

from __future__ import annotations

import os
import signal

import pytest
from hypothesis import HealthCheck, settings

# The same examples every time, so that a change alone can turn a test red, and so few that the suite stays quick; "search"
# looks for new ones.
SLOW = [HealthCheck.too_slow]  # a busy machine is no fault
settings.register_profile("fixed", max_examples=40, derandomize=True, deadline=None, suppress_health_check=SLOW)
settings.register_profile("search", deadline=None, suppress_health_check=SLOW)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "fixed"))

# What runs in the background is told to ignore Ctrl-C, and hands that on: programs that tests interrupt must hear it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

JOB = """
title = "Harbour cups"

[cup.crew]
rim    = { diameter = 86 }
base   = { circumference = 198 }
height = 152
resin  = 0.8

[vinyl.brass]
colour = "#b8923a"
width  = 305
length = 400

[vinyl.ink]
colour = "#20242c"
width  = 200

[pattern.regatta]
[[pattern.regatta.line]]
name   = "edge"
kind   = "vertical"
around = ["front", "back"]
width  = 5
vinyl  = "accent"

[[pattern.regatta.line]]
name    = "sash"
kind    = "diagonal"
start   = { around = "front", down = "20%" }
end     = { around = "back", down = "80%" }
width   = 3
stripes = 2
gap     = 2.5
under   = ["edge"]
vinyl   = "accent"

[[pattern.regatta.line]]
name  = "swirl"
kind  = "diagonal"
start = { around = 30, down = "10%" }
end   = { around = 300, down = "90%" }
path  = "even-drop"
width = 2
vinyl = "ink"

[[order]]
id = "R-31"
cup = "crew"
pattern = "regatta"
quantity = 3
vinyl = { accent = "brass" }

[[order]]
id = "R-32"
cup = "crew"
pattern = "regatta"
vinyl = "ink"
"""


@pytest.fixture(scope="session", autouse=True)
def own_settings(tmp_path_factory):
    """A settings folder for the tests alone: whoever runs them may have presets of their own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("settings")))
        yield


@pytest.fixture
def job_text() -> str:
    return JOB


@pytest.fixture
def job_file(tmp_path):
    path = tmp_path / "week.toml"
    path.write_text(JOB, encoding="utf-8")
    return path
