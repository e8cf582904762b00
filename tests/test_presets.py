"""Presets: found by name, the user's own first; names that could lead elsewhere find nothing."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.presets import FOLDERS, find_preset, list_presets, preset_names, shipped_folder

ENDS = "rim = { diameter = 82 }\nbase = { diameter = 82 }\n"
MUG = f"# A low mug, straight up\n[cup.own-mug]\n{ENDS}height = 95\n"


@pytest.fixture
def user_folder(tmp_path):
    for folder in ("cups", "vinyls"):
        (tmp_path / "own" / folder).mkdir(parents=True)
    (tmp_path / "own/cups/own-mug.toml").write_text(MUG, encoding="utf-8")
    (tmp_path / "own/vinyls/torn.toml").write_bytes(b"\xff\xfe")
    (tmp_path / "own/cups/not a name.toml").write_text(MUG)
    (tmp_path / "own/cups/notes.txt").write_text("nothing")
    (tmp_path / "own/cups/folder.toml").mkdir()
    (tmp_path / "secret.toml").write_text("x = 1")
    return tmp_path / "own"


def test_the_users_own_are_found(user_folder):
    text, file = find_preset("cup", "own-mug", user_folder)
    assert text == MUG
    assert file == str(user_folder / "cups" / "own-mug.toml")


def test_what_is_not_there(user_folder):
    assert find_preset("cup", "no-such-mug", user_folder) is None
    assert find_preset("vinyl", "own-mug", user_folder) is None
    assert find_preset("cup", "folder", user_folder) is None
    assert find_preset("cup", "own-mug", None) is None
    assert find_preset("cup", "own-mug", user_folder / "gone") is None


@pytest.mark.parametrize(
    "name", ["../secret", "..", ".", "", "cups/own-mug", "own-mug.toml", "own-mug\x00", "not a name"]
)
def test_a_name_never_leads_out_of_the_folder(user_folder, name):
    assert find_preset("cup", name, user_folder) is None
    assert find_preset("cup", str(user_folder / "cups" / "own-mug"), user_folder) is None


@given(st.text(), st.sampled_from(sorted(FOLDERS)))
@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_name_is_found_or_not_and_never_raises(tmp_path, name, kind):
    found = find_preset(kind, name, tmp_path)
    assert (found is None) == (name not in preset_names(kind, tmp_path))


def test_listing(user_folder):
    own = [preset for preset in list_presets(user_folder) if preset.is_users]
    assert [(preset.kind, preset.name) for preset in own] == [("cup", "own-mug"), ("vinyl", "torn")]
    assert own[0].about == "A low mug, straight up"
    assert own[0].file == str(user_folder / "cups" / "own-mug.toml")
    assert own[1].about == "(can't be read)"
    kinds = [preset.kind for preset in list_presets(user_folder)]
    assert kinds == sorted(kinds, key=list(FOLDERS).index)


def test_names(user_folder):
    assert "own-mug" in preset_names("cup", user_folder)
    assert "folder" not in preset_names("cup", user_folder)
    assert "own-mug" not in preset_names("cup")


def test_what_is_not_text_is_told(user_folder):
    with pytest.raises(JobError) as caught:
        find_preset("vinyl", "torn", user_folder)
    assert str(caught.value) == f"{user_folder / 'vinyls' / 'torn.toml'}: must be UTF-8 text"


def test_a_users_preset_hides_a_shipped_one(tmp_path, monkeypatch):
    for folder, height in (("own", 95), ("shipped", 100)):
        (tmp_path / folder / "cups").mkdir(parents=True)
        (tmp_path / folder / "cups/own-mug.toml").write_text(MUG.replace("95", str(height)))
    monkeypatch.setattr("stripegen.presets.shipped_folder", lambda: tmp_path / "shipped")
    assert "height = 95" in find_preset("cup", "own-mug", tmp_path / "own")[0]
    text, file = find_preset("cup", "own-mug")
    assert "height = 100" in text
    assert file == "shipped preset cups/own-mug.toml"
    assert [preset.is_users for preset in list_presets(tmp_path / "own")] == [True]
    assert [preset.is_users for preset in list_presets()] == [False]
    assert [preset.file for preset in list_presets()] == ["shipped preset cups/own-mug.toml"]


def test_a_job_with_a_users_preset(user_folder):
    text = (
        '[vinyl.teal]\ncolour = "#088"\nwidth = 300\n[[pattern.p.line]]\nname = "edge"\nkind = "vertical"\n'
        'around = 0\nwidth = 5\nvinyl = "teal"\n[[order]]\nid = "1"\ncup = "own-mug"\npattern = "p"\n'
    )
    job = parse_job(text, "job.toml", lambda kind, name: find_preset(kind, name, user_folder))
    assert job.cups["own-mug"].wall_mm == 95


def test_the_shipped_folder_is_there():
    assert shipped_folder().is_dir()


def test_every_shipped_preset_is_sound():
    for preset in list_presets():
        text, file = find_preset(preset.kind, preset.name)
        if preset.kind == "job":
            assert parse_job(text, file, find_preset).orders
            continue
        # A job whose only order reaches for it: its faults are those of the job, never of the preset's file.
        order = {"cup": "no-cup", "pattern": "no-pattern", "vinyl": "no-vinyl"} | {preset.kind: preset.name}
        lines = "\n".join(f'{key} = "{name}"' for key, name in order.items())
        with pytest.raises(JobError) as caught:
            parse_job(f'[[order]]\nid = "1"\n{lines}', "job.toml", find_preset)
        assert all(fault.where.file == "job.toml" for fault in caught.value.faults)
        assert f'"{preset.name}"' not in str(caught.value)
