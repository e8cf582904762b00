import json
import os
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from functools import partial

import pytest
from browser import browser, until

from stripegen.page import page_html
from stripegen.pagedata import empty_data
from stripegen.watching import HOST, LivePage, changes, serve, stamps_of


@pytest.fixture
def live():
    page = LivePage(partial(page_html, empty_data("first")))
    server = serve(page)
    yield page, f"http://{HOST}:{server.server_address[1]}/"
    server.shutdown()
    server.server_close()


def fetched(address: str, **headers) -> str:
    with urllib.request.urlopen(urllib.request.Request(address, headers=headers), timeout=20) as answer:
        return answer.read().decode()


def test_the_page_and_its_state_are_served(live):
    page, address = live
    assert "<title>first</title>" in fetched(address)
    assert json.loads(fetched(address + "state")) == {"version": 0, "fault": None}
    page.tell("cup: rim is missing")
    assert json.loads(fetched(address + "state")) == {"version": 0, "fault": "cup: rim is missing"}
    page.show(partial(page_html, empty_data("second")))
    assert "<title>second</title>" in fetched(address)
    assert json.loads(fetched(address + "state")) == {"version": 1, "fault": None}


@pytest.mark.parametrize("path", ["week.toml", "../etc/passwd", "state/", "?"])
def test_nothing_else_is_served(live, path):
    with pytest.raises(urllib.error.HTTPError, match="404"):
        fetched(live[1] + path)


def test_a_page_of_another_site_gets_nothing_through_a_name_of_its_own(live):
    with pytest.raises(urllib.error.HTTPError, match="404"):
        fetched(live[1], Host="cups.example")


def test_an_open_page_shows_faults_and_reloads_itself(live):
    page, address = live
    with browser() as running:
        shown = running.new_page()
        shown.goto(address)
        page.tell('week.toml: "rim" is missing <b>')
        until(shown, "byId('fault').textContent == 'week.toml: \"rim\" is missing <b>'")
        assert shown.locator("#fault").is_visible()
        page.show(partial(page_html, empty_data("second")))
        until(shown, "document.title == 'second' && byId('fault').hidden")
        assert not shown.locator("#fault").is_visible()


def test_a_change_is_seen_once_for_each_time_that_files_are_saved(tmp_path):
    job, art = tmp_path / "job.toml", tmp_path / "art.png"
    job.write_text("one")
    pauses = []

    def pause(_seconds):
        pauses.append(1)
        if len(pauses) in (3, 6):
            (job if len(pauses) == 3 else art).write_text("x" * len(pauses))
        assert len(pauses) < 9

    seen = changes(lambda: [job, art], pause)
    next(seen)
    next(seen)
    assert len(pauses) == 3
    next(seen)
    assert len(pauses) == 6


def test_what_is_saved_while_the_job_is_read_is_not_missed(tmp_path):
    job = tmp_path / "job.toml"
    job.write_text("one")
    seen = changes(lambda: [job], lambda _seconds: pytest.fail("it waited"))
    next(seen)
    job.write_text("three")
    next(seen)


def test_a_file_that_the_job_names_anew_is_watched_from_then_on(tmp_path):
    job, art = tmp_path / "job.toml", tmp_path / "art.png"
    job.write_text("one")
    art.write_text("one")
    named, pauses = [job], []

    def pause(_seconds):
        pauses.append(1)
        art.write_text("x" * len(pauses))
        assert len(pauses) < 4

    seen = changes(lambda: named, pause)
    next(seen)
    named.append(art)
    next(seen)
    assert pauses


def test_a_file_that_is_not_there_is_stamped_as_none(tmp_path):
    assert stamps_of([tmp_path / "none"]) == {tmp_path / "none": None}


@pytest.mark.skipif(os.name == "nt", reason="interrupts are told otherwise there")
def test_the_command_draws_anew_as_the_job_is_saved_and_ends_at_an_interrupt(job_file, tmp_path):
    out = tmp_path / "out"
    running = subprocess.Popen(
        [sys.executable, "-m", "stripegen", "preview", str(job_file), "-o", str(out), "--watch"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )
    try:
        address = running.stdout.readline().split()[1]

        def wait_for(version: int, fault: str | None) -> None:
            end = time.monotonic() + 120
            while time.monotonic() < end:
                state = json.loads(fetched(address + "state"))
                if state["version"] == version and (fault is None) == (state["fault"] is None):
                    assert fault is None or fault in state["fault"]
                    return
                time.sleep(0.2)
            pytest.fail(f"still {state}")

        wait_for(1, None)
        assert (out / "preview.html").exists()
        good = job_file.read_text()
        job_file.write_text(good.replace("width  = 5", 'width  = "wide"'))
        wait_for(1, "wide")
        job_file.write_text(good.replace("Harbour cups", "Harbour cups again"))
        wait_for(2, None)
        assert "Harbour cups again" in fetched(address)
        assert "Harbour cups again" in (out / "preview.html").read_text(encoding="utf-8")
    finally:
        running.send_signal(signal.SIGINT)
        said, faults = running.communicate(timeout=60)
    assert running.returncode == 0, faults
    assert said.rstrip().endswith("No longer watched.")
    assert "Traceback" not in faults
