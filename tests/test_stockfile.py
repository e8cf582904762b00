"""A stock file on the disk: at whatever point a run ends, the old text or the new one stands there whole."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from stripegen.errors import JobError, WriteError
from stripegen.holding import take_lock
from stripegen.stockfile import read_stock_text, replace_stock_text

OLD, NEW = "# old ä\r\n", "# new, and longer\n"


@pytest.fixture
def path(tmp_path) -> Path:
    path = tmp_path / "stock.toml"
    path.write_bytes(OLD.encode())
    return path


def names(folder: Path) -> set[str]:
    return {each.name for each in folder.iterdir()}


def test_the_old_text_stays_beside_the_new(path):
    path.chmod(0o640)
    assert read_stock_text(path) == OLD
    replace_stock_text(path, OLD, NEW)
    assert path.read_bytes() == NEW.encode() and path.stat().st_mode & 0o777 == 0o640
    assert (path.parent / "stock.toml~").read_bytes() == OLD.encode()
    replace_stock_text(path, NEW, OLD)
    assert (path.parent / "stock.toml~").read_bytes() == NEW.encode()
    assert names(path.parent) == {"stock.toml", "stock.toml~"}


def test_a_new_file(tmp_path):
    path = tmp_path / "stock.toml"
    assert read_stock_text(path) is None
    replace_stock_text(path, None, NEW)
    assert read_stock_text(path) == NEW and names(tmp_path) == {"stock.toml"}
    with pytest.raises(WriteError, match="it has been changed meanwhile"):
        replace_stock_text(path, None, OLD)


def test_what_was_saved_meanwhile_is_not_overwritten(path):
    with pytest.raises(WriteError, match="it has been changed meanwhile"):
        replace_stock_text(path, "# as it was once\n", NEW)
    assert read_stock_text(path) == OLD and names(path.parent) == {"stock.toml"}


def test_of_two_at_once_the_second_stops(path):
    lock = take_lock(path.parent / ".stock.toml.new", "busy")
    try:
        with pytest.raises(WriteError, match="another run is writing it: wait until it is done"):
            replace_stock_text(path, OLD, NEW)
        assert read_stock_text(path) == OLD and ".stock.toml.new" in names(path.parent)
    finally:
        os.close(lock)
    replace_stock_text(path, OLD, NEW)  # what a run that has ended left there is no matter
    assert read_stock_text(path) == NEW


@pytest.mark.parametrize("at", [1, 2])
def test_killed_before_a_rename_it_loses_nothing(path, at):
    code = (
        "import os, sys; from pathlib import Path; from stripegen.stockfile import replace_stock_text\n"
        "real, calls = os.replace, []\n"
        "def replace(*args):\n"
        "    calls.append(args)\n"
        f"    os._exit(9) if len(calls) == {at} else real(*args)\n"
        "os.replace = replace\n"
        "replace_stock_text(Path(sys.argv[1]), sys.argv[2], sys.argv[3])\n"
    )
    ended = subprocess.run([sys.executable, "-c", code, path, OLD, NEW], check=False)
    assert ended.returncode == 9 and read_stock_text(path) == OLD
    replace_stock_text(path, OLD, NEW)
    assert read_stock_text(path) == NEW and read_stock_text(path.parent / "stock.toml~") == OLD
    assert names(path.parent) == {"stock.toml", "stock.toml~"}


def test_a_disk_that_refuses_leaves_it_as_it_was(path, monkeypatch):
    def refuse(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(WriteError, match="can't be written: No space left on device; it is as it was"):
        replace_stock_text(path, OLD, NEW)
    monkeypatch.undo()
    assert read_stock_text(path) == OLD and not (path.parent / ".stock.toml.new").exists()


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_of_a_link_the_file_is_replaced(path, tmp_path):
    link = tmp_path / "shop" / "stock.toml"
    link.parent.mkdir()
    link.symlink_to(path)
    replace_stock_text(link, OLD, NEW)
    assert link.is_symlink() and read_stock_text(path) == NEW


def test_what_can_not_be_read(path):
    path.write_bytes(b"# \xff\n")
    with pytest.raises(JobError, match="it must be UTF-8 text; byte 3 is not"):
        read_stock_text(path)
    with pytest.raises(JobError, match="it can't be read"):
        read_stock_text(path.parent)
