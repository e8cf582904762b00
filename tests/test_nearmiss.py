"""What is suggested for names, commands, units and files that are nearly right."""

import pytest
from click.testing import CliRunner

from stripegen.cli import main
from stripegen.nearmiss import did_you_mean, near_miss
from stripegen.units import parse_length


def test_names():
    assert near_miss("HEIHGT", ["width", "height"]) == "height"
    assert near_miss("zz", ["width", "height"]) is None and did_you_mean("zz", ["width"]) == ""


@pytest.mark.parametrize(
    ("text", "meant"),
    [("4 mn", "4 mm"), ("2.5 inch", "2.5 in"), ("3 1/8 inches", "3 1/8 in"), ("3cn", "3cm"), ("10 millimetres", "10 mm"),
     ("4 MM", "4 mm"), ("2 m", None), ("7 feet", None)],
)  # fmt: skip
def test_units(text, meant):
    with pytest.raises(ValueError) as caught:
        parse_length(text, "mm")
    hint = f'; did you mean "{meant}"?' if meant else ""
    assert str(caught.value) == f'must have the unit "mm", "cm" or "in"{hint}'


@pytest.mark.parametrize(
    ("name", "hint"),
    [("sahs", '"sash"?'), ("pattern/sahs", '"sash"?'), ("cups/tall-taperd", '"tall-tapered"?'), ("cpu/x", '"cup"?'),
     ("zzz", "see stripegen presets")],
)  # fmt: skip
def test_presets(name, hint):
    told = CliRunner().invoke(main, ["presets", "show", name])
    assert told.exit_code == 1
    assert told.stderr.strip().endswith(hint) and f'read "{name}"' in told.stderr


def test_commands_options_and_files(tmp_path):
    (tmp_path / "week.toml").write_text("")
    for arguments, hint in [
        (["nset"], "nest"),
        (["nest", "--efort", "quick"], "--effort"),
        (["strips", str(tmp_path / "wekk.toml"), "-o", "out"], 'did you mean "week.toml"?'),
    ]:
        result = CliRunner().invoke(main, arguments)
        assert result.exit_code in (1, 2) and hint in result.stderr
