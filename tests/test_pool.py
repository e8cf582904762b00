"""Several vinyls by several processes: the same result whatever runs it, and when processes are worth a start."""

from __future__ import annotations

import multiprocessing
import os
import pickle
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from functools import partial

import pytest
from conftest import JOB
from placeless import placeless

from stripegen.errors import NestError
from stripegen.jobfile import parse_job
from stripegen.layout import Blank, Placement, Stock
from stripegen.nest import nest
from stripegen.pool import executor_for, processors, worth_processes
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.results import sheets_result
from stripegen.sheets import lay_out

# a third vinyl, and enough pieces that the tasks end in another order than they begin
WEEK = JOB.replace('id = "R-32"', 'id = "R-32"\nquantity = 7') + """
[vinyl.tin]
colour = "#a8adb3"
width  = 150

[[order]]
id = "R-33"
cup = "crew"
pattern = "regatta"
vinyl = { accent = "tin" }
"""
QUICK = partial(nest, effort="quick")


def produced(text: str = WEEK):
    return produce(parse_job(text, "week.toml", lambda kind, name: None))


def files(executor=None, progress=None) -> dict[str, bytes]:
    made = produced()
    return sheets_result("nest", made, lay_out(made, "sheet", QUICK, prove, executor, progress), None).files


@pytest.fixture(scope="module")
def here() -> dict[str, bytes]:
    return files()


@pytest.mark.parametrize("number", [1, 2])
def test_processes_give_the_same_bytes(here, number):
    with ProcessPoolExecutor(number, mp_context=multiprocessing.get_context("spawn")) as executor:
        assert files(executor) == here


def test_a_pool_that_is_handed_in_gives_the_same_bytes(here):
    with ThreadPoolExecutor(3) as executor:
        assert files(executor) == here
        assert executor.submit(int).result() == 0  # it is left to whoever handed it in


def test_our_own_pool_gives_the_same_bytes(here):
    with executor_for([30, 30], "normal", 2) as executor:
        assert isinstance(executor, ProcessPoolExecutor)
        assert files(executor) == here


def test_a_cluster_gives_the_same_bytes(here):
    """An executor of other processes, reached over the network: one machine stands for several."""
    distributed = pytest.importorskip("distributed", reason="stripegen[cluster] is not installed")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
        client.get_executor() as executor,
    ):
        assert client.submit(os.getpid, pure=False).result() != os.getpid()
        assert files(executor) == here


def test_what_is_sent_can_be_pickled():
    blank = Blank(key="a", outline=((0, 0), (4, 0), (4, 20)), solids=((((0, 0), (4, 0), (4, 20)), ()),))
    place = Placement(key="a", turn_deg=90.0, dx_mm=1.0, dy_mm=2.0)
    for value in (blank, place, Stock(width_mm=100, length_mm=None, margin_mm=5, gap_mm=1.5), NestError("no")):
        again = pickle.loads(pickle.dumps(value))
        assert type(again) is type(value)
        assert again == value or str(again) == str(value)


def test_each_task_is_sent_its_own_vinyls_blanks():
    sent = []

    def spy(blanks, stock):
        sent.append({blank.key for blank in blanks})
        return QUICK(blanks, stock)

    made = produced()
    with ThreadPoolExecutor(1) as executor:
        lay_out(made, "sheet", spy, prove, executor)
    own = [{piece.id for piece in made.of_vinyl(vinyl.name)} for vinyl in made.vinyls]
    assert sorted(map(sorted, sent)) == sorted(map(sorted, own))
    assert [len(keys) for keys in sent] == sorted(map(len, own), reverse=True)  # the longest first


@pytest.mark.parametrize("threads", [None, 2])
def test_misfits_of_all_vinyls_are_told_at_once_in_their_order(threads):
    small = "width = 60\nlength = 60"
    made = produced(WEEK.replace("width  = 305\nlength = 400", small).replace("width  = 150", small))
    with pytest.raises(NestError) as caught:
        if threads is None:
            lay_out(made, "sheet", QUICK, prove)
        else:
            with ThreadPoolExecutor(threads) as executor:
                lay_out(made, "sheet", QUICK, prove, executor)
    named = [line.split(": piece")[0] for line in placeless(str(caught.value)).splitlines()]
    assert list(dict.fromkeys(named)) == ["week.toml: [vinyl.brass]", "week.toml: [vinyl.tin]"]


def die(blanks, stock):
    os._exit(3)


def test_a_process_that_dies_is_told_in_one_line():
    with (
        ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as executor,
        pytest.raises(NestError, match="a process that nested ended before it was done"),
    ):
        lay_out(produced(), "sheet", die, prove, executor)


@pytest.mark.parametrize("threads", [None, 2])
def test_progress_goes_up_to_1_over_all_vinyls(threads):
    shares: list[float] = []
    if threads is None:
        files(progress=shares.append)
    else:
        with ThreadPoolExecutor(threads) as executor:
            files(executor, shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1.0)
    assert len(set(shares)) >= 3


@pytest.mark.parametrize(
    ("counts", "effort", "most", "expected"),
    [
        ([500], "thorough", 8, 1),  # one vinyl is never shared
        ([500, 400], "normal", 1, 1),
        ([500, 400], "normal", 8, 2),
        ([500, 3], "normal", 8, 1),  # the second is done before a process has begun
        ([25, 25, 25, 25], "normal", 3, 3),
        ([25, 25], "quick", 2, 1),
        ([10, 10], "thorough", 2, 2),
    ],
)
def test_processes_are_started_where_they_save_more_than_their_start(counts, effort, most, expected):
    assert worth_processes(counts, effort, most) == expected


def test_without_need_there_is_no_pool():
    with executor_for([3, 3], "normal", processors()) as executor:
        assert executor is None
