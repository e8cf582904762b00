"""A job's pieces: ids, order, bindings, places, and what is told of them."""

import math
from dataclasses import replace

import pytest
import shapely
from strategies import CUPS

from stripegen import production
from stripegen.errors import JobError
from stripegen.production import produce
from stripegen.spec import Cutter, Diagonal, Down, Job, Order, Pattern, Repeat, Ring, Vertical, Vinyl

EDGE = Vertical(name="edge", vinyl="accent", width_mm=5.0, around=("front", "back"))
SASH = Diagonal(
    name="sash",
    vinyl="body",
    width_mm=3.0,
    stripes=2,
    gap_mm=2.5,
    start_around="front",
    start_down=Down(20.0),
    end_around="back",
    end_down=Down(50.0),
    under=("edge",),
    mirror=True,
)
BAND = Ring(name="band", vinyl="accent", width_mm=1.2, downs=(Down(60.0), Down(52.0)), ends="upright")


def vinyl(name: str, **more) -> Vinyl:
    return Vinyl(**({"name": name, "colour": "#b8923a", "width_mm": 305.0} | more))


def job(*orders: Order, lines=(EDGE, SASH, BAND), **more) -> Job:
    return Job(
        **(
            {
                "file": "week.toml",
                "cups": {
                    "tall": replace(CUPS["coated"], name="tall"),
                    "wide": replace(CUPS["wider"], name="wide"),
                },
                "patterns": {"regatta": Pattern(name="regatta", lines=lines)},
                "vinyls": {"brass": vinyl("brass"), "navy": vinyl("navy"), "body": vinyl("body")},
                "orders": orders,
                "own_vinyls": frozenset({"body"}),
            }
            | more
        )
    )


def order(id: str, cup="tall", **more) -> Order:
    return Order(id=id, cup=cup, pattern="regatta", **({"bindings": {"accent": "brass"}} | more))


def test_pieces_are_in_reading_order_with_ids_of_their_own():
    made = produce(job(order("R-1", quantity=2), order("R-2", cup="wide")))
    ids = [piece.id for piece in made.pieces]
    assert len(set(ids)) == len(ids) == 3 * 8
    assert ids[:8] == [
        "R-1.1.edge.1",
        "R-1.1.edge.2",
        "R-1.1.sash.1",
        "R-1.1.sash.2",
        "R-1.1.sash.3",
        "R-1.1.sash.4",
        "R-1.1.band.1",
        "R-1.1.band.2",
    ]
    assert ids[8] == "R-1.2.edge.1" and ids[16] == "R-2.1.edge.1"
    for piece in made.pieces:
        assert piece.id == f"{piece.order}.{piece.cup_no}.{piece.line}.{piece.id.rpartition('.')[2]}"
    # the cups of one order are the same, and each cup has its own shapes
    assert all(a.flat is b.flat for a, b in zip(made.pieces[:8], made.pieces[8:16], strict=True))
    assert made.pieces[16].flat.cut_mm != made.pieces[0].flat.cut_mm


def test_the_first_and_last_places_are_where_the_centre_lines_end():
    made = {piece.id: piece.flat for piece in produce(job(order("R-1"))).pieces}
    assert made["R-1.1.edge.1"].start == pytest.approx((0.0, 12.0))
    assert made["R-1.1.edge.2"].end == pytest.approx((math.pi, 146.0))
    # tucked 1.5 under edges of 2.5 on either side: 1 mm past the seam
    for number in (1, 2):
        start, end = made[f"R-1.1.sash.{number}"].start, made[f"R-1.1.sash.{number}"].end
        assert start[0] * 42.5 == pytest.approx(1.0, abs=0.05)
        assert (math.pi - end[0]) * 40.0 == pytest.approx(1.0, abs=0.05)
        assert start[1] < end[1]
    band = made["R-1.1.band.1"]
    assert band.start == pytest.approx((math.pi, 60.0))
    assert band.end[0] - math.pi == pytest.approx(math.tau + 3.0 / (band.true_mm / math.tau))


def test_every_outline_starts_at_nought_and_has_its_area():
    for piece in produce(job(order("R-1"), order("R-2", cup="wide"))).pieces:
        polygon = shapely.Polygon(piece.flat.points, piece.flat.holes)
        assert polygon.is_valid
        assert polygon.bounds[:2] == pytest.approx((0.0, 0.0), abs=1e-9)
        assert polygon.area == pytest.approx(piece.flat.area_mm2, abs=0.005 * polygon.length)
        assert all(round(c, 4) == c for point in piece.flat.points for c in point)


def test_roles_are_bound_to_vinyls():
    made = produce(job(order("R-1"), order("R-2", bindings={}, every_role="navy")))
    found = {(piece.order, piece.line): piece.vinyl for piece in made.pieces}
    assert found["R-1", "edge"] == "brass" and found["R-1", "sash"] == "body"
    # one vinyl for every role, but for a word that is itself a vinyl of the job
    assert found["R-2", "edge"] == "navy" and found["R-2", "sash"] == "body"
    assert [one.name for one in made.vinyls] == ["brass", "body", "navy"]
    assert {piece.id for piece in made.of_vinyl("navy")} == {
        "R-2.1.edge.1",
        "R-2.1.edge.2",
        "R-2.1.band.1",
        "R-2.1.band.2",
    }


def test_what_the_maker_should_know_is_told_once_an_order():
    told = produce(
        job(
            order("R-1"),
            order("R-2", bindings={"accent": "navy", "body": "navy", "trim": "navy"}),
            vinyls={name: vinyl(name, min_width_mm=1.5) for name in ("brass", "navy", "body")},
        )
    ).notices
    codes = [(notice.order, notice.code, notice.line) for notice in told]
    assert ("R-1", "too-narrow", "band") in codes and ("R-2", "too-narrow", "band") in codes
    assert ("R-2", "unused-role", None) in codes and ("R-1", "unused-role", None) not in codes
    assert len(codes) == len(set(codes))
    assert produce(job(order("R-1"))).notices == ()


def test_strips_too_narrow_for_their_vinyl_are_dropped_and_that_is_told():
    vinyls = {"brass": vinyl("brass", min_width_mm=1.5), "navy": vinyl("navy"), "body": vinyl("body")}
    made = produce(job(order("R-1"), order("R-2", bindings={"accent": "navy"}), vinyls=vinyls))
    lines = {(piece.order, piece.line) for piece in made.pieces}
    assert ("R-1", "band") not in lines and {("R-2", "band"), ("R-1", "edge")} <= lines
    (notice,) = made.notices
    longest = max(piece.flat.true_mm for piece in made.pieces if piece.line == "band")
    assert str(notice) == (
        "R-1 band: 2 strips are nowhere as wide as 1.5 mm, the least that brass can be weeded at: dropped, of which "
        f"{longest:.1f} mm at most would be seen"
    )
    with pytest.raises(JobError, match="every strip is too narrow for its vinyl: there is nothing to cut"):
        produce(job(order("R-1"), lines=(BAND,), vinyls=vinyls))


def test_lines_that_may_be_split_are_cut_in_parts_named_in_order():
    narrow = {name: vinyl(name, width_mm=120.0, length_mm=150.0) for name in ("brass", "navy", "body")}
    lines = (EDGE, replace(SASH, split=True), replace(BAND, split=True))
    whole = {piece.id: piece.flat for piece in produce(job(order("R-1"), lines=lines)).pieces}
    made = produce(job(order("R-1"), lines=lines, vinyls=narrow))
    parts = [piece for piece in made.pieces if piece.line == "band"]
    assert [piece.id for piece in parts] == [f"R-1.1.band.{number}" for number in range(1, len(parts) + 1)]
    assert len(parts) == 4
    for first, second, of in ((parts[0], parts[1], "1"), (parts[2], parts[3], "2")):
        one = whole[f"R-1.1.band.{of}"]
        assert first.flat.start == one.start and second.flat.end == one.end
        assert first.flat.true_mm + second.flat.true_mm == pytest.approx(one.true_mm)
        assert first.flat.cut_mm + second.flat.cut_mm == pytest.approx(one.cut_mm + 3.0)
    # the edges are not to be split, and are left as they are for the layout to refuse
    assert [piece.flat.cut_mm for piece in made.pieces if piece.line == "edge"] == [134.0, 134.0]
    (told,) = [notice for notice in made.notices if notice.code == "split"]
    assert str(told) == "R-1 band: 2 strips are too long for brass: cut in 4 parts that overlap by 3 mm"


def test_a_strip_that_can_not_be_split_is_a_fault_of_its_line():
    many = Vertical(name="many", vinyl="accent", width_mm=10.0, repeat=Repeat(count=20))
    narrow = {name: vinyl(name, width_mm=120.0, length_mm=150.0) for name in ("brass", "navy", "body")}
    with pytest.raises(JobError) as caught:
        produce(job(order("R-1"), order("R-2"), lines=(many, replace(BAND, split=True)), vinyls=narrow))
    (fault,) = caught.value.faults
    assert str(fault).startswith(': [[pattern.regatta.line]] "band": on cup tall, from brass, it is ')
    assert "no joint can be placed clear of the lines that it crosses" in str(fault)


def test_a_cutter_that_cuts_no_further_has_strips_split_too():
    lines = (replace(BAND, split=True),)
    cutter = Cutter(cut_width_mm=150.0, longest_run_mm=120.0)
    made = produce(job(order("R-1"), lines=lines, cutter=cutter))
    assert len(made.pieces) == 4 and len(produce(job(order("R-1"), lines=lines)).pieces) == 2


def test_faults_of_all_cups_are_told_together():
    tall_only = Ring(name="low", vinyl="accent", width_mm=2.0, downs=(Down(120.0),), ends="upright")
    with pytest.raises(JobError) as caught:
        produce(
            job(order("R-1"), order("R-2", cup="wide"), order("R-3", cup="wide"), lines=(EDGE, tall_only))
        )
    assert [str(fault) for fault in caught.value.faults] == [
        (
            ': [[pattern.regatta.line]] "low": on cup wide, a place 120.00 mm down misses the wall, '
            'which is 110.00 mm long: give a place on the wall, or a share such as "50%", which suits any cup'
        )
    ]


def test_a_job_has_no_more_pieces_than_can_be_handled(monkeypatch):
    monkeypatch.setattr(production, "MOST_PIECES", 15)
    with pytest.raises(JobError, match="16 pieces; a job may have 15"):
        produce(job(order("R-1", quantity=2)))
    assert len(produce(job(order("R-1"))).pieces) == 8


def test_progress_is_told_order_by_order():
    told = []
    produce(job(order("R-1"), order("R-2"), order("R-3"), order("R-4")), progress=told.append)
    assert told == [0.25, 0.5, 0.75, 1.0]
