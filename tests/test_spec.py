"""The values of a job check themselves, whoever builds them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.spec import (
    Along,
    Chevron,
    Cup,
    Cutter,
    Diagonal,
    Down,
    Job,
    Keepout,
    Line,
    Misread,
    Offcut,
    Order,
    ProfilePoint,
    Repeat,
    Ring,
    Seam,
    SheetSize,
    Vertical,
    Vinyl,
)

LINE = {"name": "sash", "vinyl": "accent", "width_mm": 3.0}
GOOD = {
    Down: {"value": 0.2},
    Along: {"along_mm": -5.0, "at_mm": 12.0},
    Seam: {"name": "back", "rim": 0.0, "base": Along(1.0, 2.0)},
    Keepout: {"around": "back", "width_mm": 36.0, "from_mm": 20.0, "to_mm": 95.0},
    Cup: {"name": "tall", "rim_radius_mm": 43.0, "base_radius_mm": 31.0, "wall_mm": 152.0},
    Vinyl: {"name": "brass", "colour": "#b8923a", "width_mm": 305.0},
    Repeat: {"count": 3},
    Line: LINE,
    Vertical: LINE | {"around": ("front", 0.5)},
    Ring: LINE | {"downs": (Down(30.0),)},
    Diagonal: LINE
    | {
        "start_around": 0.0,
        "start_down": Down(3.0),
        "end_around": "back",
        "end_down": Down(90.0),
        "mirror": True,
    },
    Chevron: LINE | {"top": Down(30.0), "bottom": Down(60.0), "points": 8},
    Cutter: {"cut_width_mm": 300.0, "longest_run_mm": 900.0},
    SheetSize: {"width_mm": 200.0, "length_mm": 300.0},
    Offcut: {"vinyl": "brass", "width_mm": 200.0, "length_mm": 30.0},
    Order: {"id": "R-31", "cup": "tall", "pattern": "regatta"},
}


@pytest.mark.parametrize("kind", GOOD)
def test_good_values(kind):
    assert kind(**GOOD[kind]) == kind(**GOOD[kind])


@pytest.mark.parametrize(
    ("kind", "changes", "told"),
    [
        (Down, {"value": math.nan}, "value must be finite"),
        (Along, {"along_mm": math.inf}, "along_mm must be finite"),
        (Along, {"at_mm": -1.0}, "at_mm must be finite and 0 or more"),
        (Seam, {"rim": math.nan}, "rim must be finite"),
        (Seam, {"opening_mm": -1.0}, "opening_mm must be finite and 0 or more"),
        (Cutter, {"cut_width_mm": 0.0}, "cut_width_mm must be finite and above 0"),
        (Cutter, {"longest_run_mm": math.nan}, "longest_run_mm must be finite and above 0"),
        (Cutter, {"mat_mm": (300.0, 0.0)}, "mat's length must be finite and above 0"),
        (Cutter, {"mat_mm": (301.0, 300.0)}, "mat's width must be at most 300.0"),
        (Offcut, {"quantity": 0}, "quantity must be finite and above 0"),
        (Offcut, {"width_mm": math.nan}, "width_mm must be finite and above 0"),
        (SheetSize, {"length_mm": 0.0}, "length_mm must be finite and above 0"),
        (Vinyl, {"length_left_mm": -1.0}, "length_left_mm must be finite and 0 or more"),
        (Vinyl, {"length_mm": 90.0, "quantity": -1}, "quantity must be finite and 0 or more"),
        (Vinyl, {"length_left_mm": 90.0, "length_mm": 90.0}, "only a roll has a length_left_mm"),
        (Vinyl, {"quantity": 2}, "a roll has no sizes and no quantity"),
        (Vinyl, {"sizes": (SheetSize(90.0, 90.0),)}, "a roll has no sizes and no quantity"),
        (Vinyl, {"length_mm": 90.0, "sizes": (SheetSize(90.0, 9.0),)}, "length 2 must be above two margins"),
        (Keepout, {"width_mm": 0.0}, "width_mm must be finite and above 0"),
        (Keepout, {"to_mm": 20.0}, "from_mm must be less than to_mm"),
        (Keepout, {"around": math.inf}, "around must be finite"),
        (Cup, {"rim_radius_mm": 0.0}, "rim_radius_mm must be finite and above 0"),
        (Cup, {"base_radius_mm": math.nan}, "base_radius_mm must be finite and above 0"),
        (Cup, {"wall_mm": -1.0}, "wall_mm must be finite and above 0"),
        (Cup, {"wall_mm": 12.0}, "wall_mm must be above 12.0, by which the radii differ"),
        (Cup, {"resin_mm": -0.1}, "resin_mm must be finite and 0 or more"),
        (Cup, {"seal_mm": -0.1}, "seal_mm must be finite and 0 or more"),
        (Cup, {"smooth": True}, "smooth needs a profile"),
        (Cup, {"rim_clearance_mm": math.nan}, "rim_clearance_mm must be finite and 0 or more"),
        (Vinyl, {"width_mm": math.inf}, "width_mm must be finite and above 0"),
        (Vinyl, {"width_mm": 10.0}, "width_mm must be above two margins of 5.0"),
        (Vinyl, {"length_mm": 9.0}, "length_mm must be above two margins of 5.0"),
        (Vinyl, {"stretch": -0.1}, "stretch must be finite and 0 or more"),
        (Vinyl, {"thickness_mm": 0.0}, "thickness_mm must be finite and above 0"),
        (Vinyl, {"thickness_mm": 2.0}, "thickness_mm must be below 2.0"),
        (Vinyl, {"price_sheet": 3.2}, "a roll has no price of a sheet"),
        (Vinyl, {"price_sheet": 3.2, "price_square_metre": 14.0, "length_mm": 400.0}, "has one price"),
        (Vinyl, {"price_roll": 24.0}, "the length that is bought for it go together"),
        (Vinyl, {"roll_length_mm": 5000.0}, "the length that is bought for it go together"),
        (Vinyl, {"price_roll": 24.0, "roll_length_mm": 5e3, "length_mm": 400.0}, "a sheet has no price of a roll"),
        (Vinyl, {"grain": "across"}, "grain must be none, cup or strip"),
        (Repeat, {"count": 0}, "count must be 1 or more"),
        (Repeat, {"step_rad": math.nan}, "step_rad must be finite"),
        (Repeat, {"between": (0.0, math.nan)}, "between must be finite"),
        (Repeat, {"step_rad": 1.0, "between": (0.0, 1.0)}, "not both"),
        (Order, {"quantity": 0}, "quantity must be 1 or more"),
        (Order, {"every_role": "brass", "bindings": {"accent": "brass"}}, "not both"),
        (Vertical, {"around": (0.0, math.nan)}, "around must be finite"),
        (Vertical, {"narrows": True, "slit": True}, "a line that narrows can't be slit"),
        (Chevron, {"slit": True}, "a chevron can't be slit"),
        (Vertical, {"mirror": math.inf}, "mirror must be finite"),
        (Ring, {"downs": ()}, "at least one place"),
        (Ring, {"start": 0.0}, "both a start and an end"),
        (Ring, {"overlap_mm": -1.0}, "overlap_mm must be finite and 0 or more"),
        (Ring, {"joint": math.nan}, "joint must be finite"),
        (Diagonal, {"path": "bent"}, "path must be one of straight, same-slant, even-drop"),
        (Diagonal, {"end_around": math.nan}, "end_around must be finite"),
        (Chevron, {"path": "bent"}, "path must be one of"),
        (Chevron, {"points": 0}, "points must be 1 or more"),
        (Chevron, {"overlap_mm": math.nan}, "overlap_mm must be finite and 0 or more"),
        *[
            (kind, changes, told)
            for kind in (Line, Vertical, Ring, Diagonal, Chevron)
            for changes, told in (
                ({"width_mm": 0.0}, "width_mm must be finite and above 0"),
                ({"width_mm": math.nan}, "width_mm must be finite and above 0"),
                ({"stripes": 0}, "stripes must be 1 or more"),
                ({"gap_mm": -1.0}, "gap_mm must be finite and 0 or more"),
                ({"tuck_mm": math.inf}, "tuck_mm must be finite and 0 or more"),
                ({"by_mm": -1.0}, "by_mm must be finite and 0 or more"),
                ({"resin_mm": -1.0}, "resin_mm must be finite and 0 or more"),
                ({"ends": "round"}, "ends must be level, upright or square"),
            )
        ],
    ],
)
def test_wrong_values(kind, changes, told):
    with pytest.raises(ValueError, match=told):
        kind(**(GOOD[kind] | changes))


# a lip of 2 mm, 3-4-5 inwards, straight down
VASE = {
    "name": "vase",
    "rim_radius_mm": 45.0,
    "base_radius_mm": 40.0,
    "wall_mm": 37.0,
    "profile": tuple(ProfilePoint(*point) for point in ((45, 60), (43, 60), (40, 56), (40, 26))),
}


class TestProfile:
    def test_good(self):
        assert Cup(**VASE).profile[1] == (43, 60)
        smooth = VASE | {"profile": VASE["profile"][1:], "rim_radius_mm": 43.0, "smooth": True}
        assert Cup(**(smooth | {"wall_mm": 35.0})).smooth
        assert Cup(**(smooth | {"wall_mm": 36.0})).wall_mm == 36.0

    @pytest.mark.parametrize(
        ("changes", "told"),
        [
            ({"wall_mm": 37.1}, "wall_mm must be that of the profile, 37.0"),
            ({"wall_mm": 36.9}, "wall_mm must be that of the profile, 37.0"),
            ({"rim_radius_mm": 44.0}, "rim_radius_mm must be that of the profile, 45"),
            ({"base_radius_mm": 41.0}, "base_radius_mm must be that of the profile, 40"),
            ({"profile": VASE["profile"][:1]}, "too few points: got 1"),
            ({"profile": VASE["profile"][::2][:2], "smooth": True}, "too few points: got 2"),
            (
                {"profile": VASE["profile"][::-1]},
                "profile must fall from the rim to the base: got 26 above 56",
            ),
            ({"smooth": True}, "profile must fall from the rim to the base: got 60 above 60"),
            (
                {"profile": (*VASE["profile"][:3], ProfilePoint(0.0, 3.0))},
                "radius_mm must be finite and above 0",
            ),
            (
                {"profile": (*VASE["profile"][:3], ProfilePoint(40.0, math.nan))},
                "height_mm must be finite",
            ),
            (
                {"profile": VASE["profile"][1:], "rim_radius_mm": 43.0, "wall_mm": 34.9, "smooth": True},
                "wall_mm must be that of the profile, 35.0",
            ),
        ],
    )
    def test_wrong(self, changes, told):
        with pytest.raises(ValueError, match=told):
            Cup(**(VASE | changes))


def test_misreads_do_not_make_another_cup():
    cup = Cup(**GOOD[Cup])
    with_one = Cup(**GOOD[Cup], misreads=(Misread("height", lambda cup: None),))
    assert cup == with_one
    assert "misread" not in repr(with_one)


def test_an_orders_seams_lie_over_those_of_its_cup():
    front, back, moved, side = (
        Seam(name=name, rim=at, base=at)
        for name, at in (("front", 0.0), ("back", 3.0), ("back", 2.9), ("side", 1.0))
    )
    cup = Cup(**GOOD[Cup], seams={"front": front, "back": back})
    job = Job(file="f", cups={"tall": cup}, patterns={}, vinyls={}, orders=())
    assert job.cutter == Cutter()
    assert job.cup_of(Order(**GOOD[Order])) is cup
    other = job.cup_of(Order(**GOOD[Order], seams={"back": moved, "side": side}))
    assert other.seams == {"front": front, "back": moved, "side": side}
    assert other.wall_mm == cup.wall_mm
    assert cup.seams == {"front": front, "back": back}


class TestDown:
    def test_lengths(self):
        assert Down(30.0).on(150, 12, 6) == 30
        assert Down(30.0, from_base=True).on(150, 12, 6) == 120

    def test_shares_run_between_the_clearances(self):
        assert Down(0.0, is_share=True).on(150, 12, 6) == 12
        assert Down(1.0, is_share=True).on(150, 12, 6) == 144
        assert Down(0.25, is_share=True).on(150, 12, 6) == 45
        assert Down(0.0, is_share=True, from_base=True).on(150, 12, 6) == 144
        assert Down(0.25, is_share=True, from_base=True).on(150, 12, 6) == 111

    @given(st.floats(-1, 2), st.floats(50, 300), st.floats(0, 20), st.floats(0, 20))
    def test_a_share_from_the_base_is_the_rest_from_the_rim(self, share, wall, rim, base):
        up = Down(share, is_share=True, from_base=True).on(wall, rim, base)
        assert up == pytest.approx(Down(1 - share, is_share=True).on(wall, rim, base), abs=1e-9)


def test_full_width():
    assert Line(**LINE).full_width_mm == 3
    assert Line(**LINE, stripes=4, gap_mm=2.5).full_width_mm == 19.5


def test_which_vinyl_a_role_is_cut_from():
    brass, teal = (Vinyl(**(GOOD[Vinyl] | {"name": name})) for name in ("brass", "teal"))
    job = Job(
        file="f",
        cups={},
        patterns={},
        orders=(),
        vinyls={"brass": brass, "teal": teal},
        own_vinyls=frozenset({"teal"}),
    )
    every = Order(**GOOD[Order], every_role="brass")
    assert job.vinyl_of(every, "accent") is brass
    assert job.vinyl_of(every, "teal") is teal
    bound = Order(**GOOD[Order], bindings={"accent": "teal", "teal": "brass"})
    assert job.vinyl_of(bound, "accent") is teal
    assert job.vinyl_of(bound, "teal") is brass
    assert job.vinyl_of(bound, "brass") is brass
    assert job.vinyl_of(bound, "sash") is None
