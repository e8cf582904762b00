"""Any text whatever comes to a job or to faults told in printable lines; `tests/bench/fuzz.py` tries many more."""

from __future__ import annotations

import inspect
import re

import jobtexts
from fuzzing import is_cheap, laid, parsed, stock, try_text
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from jobtexts import SCALARS, SHEET_JOB, job_texts, jobs, literal, odd_jobs, sheets, stocks, text_of

from stripegen import csvorders, cutterspec, linespec, measures, orderspec, panelspec, vinylspec

quick = settings(suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large], phases=[Phase.explicit, Phase.generate])


@settings(quick, max_examples=60)
@given(jobs())
def test_sound_jobs_are_read(tables):
    assert parsed(text_of(tables)) is not None


@settings(quick, max_examples=120)
@given(job_texts())
def test_any_text_is_read_or_refused(text):
    assert try_text(text) in ("parsed", "refused")


@settings(quick, max_examples=60)
@given(sheets())
def test_any_sheet_of_orders_is_read_or_refused(sheet):
    job = parsed(SHEET_JOB, sheet)
    assert job is None or job.orders


@settings(quick, max_examples=60)
@given(st.one_of(stocks().map(text_of), odd_jobs(stocks())))
def test_any_stock_file_is_read_or_refused(text):
    stock(text)


@settings(quick, max_examples=30)
@given(stocks())
def test_sound_stock_files_are_read(tables):
    assert stock(text_of(tables)) is not None


@settings(quick, max_examples=6)
@given(jobs())
def test_what_is_sound_is_laid_out_or_refused(tables):
    job = parsed(text_of(tables))
    if is_cheap(job):
        laid(job)


def test_every_key_of_a_job_is_known_to_the_strategies():
    """So that a new key is fuzzed too."""
    known = {*measures._KEYS, *vinylspec._KEYS, *cutterspec.KEYS, *panelspec.KEYS, *linespec._EVERY_KEY}
    known |= {*orderspec.KEYS, *csvorders.OWN_KEYS}
    drawn = {word.rstrip("_") for word in re.findall(r"\w+", inspect.getsource(jobtexts))}
    assert not known - drawn


@settings(quick, max_examples=100)
@given(st.lists(SCALARS, max_size=3))
def test_values_are_written_as_toml_reads_them(values):
    import tomllib

    read = tomllib.loads(f"x = {literal(values)}")["x"]
    assert [str(each) for each in read] == [str(each) for each in values]
