import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.artwork import Artwork
from stripegen.decoration import decorate
from stripegen.drawing import GroupItem, ImageItem
from stripegen.flatbands import bands_of
from stripegen.flatview import flat_view
from stripegen.panels import laid_panels, parts_of_panel
from stripegen.panelspec import Panel
from stripegen.sideview import side_views
from stripegen.site import Site
from stripegen.spec import Cup, Pattern, ProfilePoint, Seam, Vertical
from stripegen.walls import bare_wall

PATTERN = Pattern(name="p", lines=(Vertical(name="bar", vinyl="v", width_mm=4.0, around=(1.0,)),))
SEAMS = {"front": Seam(name="front", rim=0.0, base=0.1), "back": Seam(name="back", rim=3.0, base=3.2)}


def a_cup(**more) -> Cup:
    return Cup(**({"name": "cup", "rim_radius_mm": 43.0, "base_radius_mm": 31.0, "wall_mm": 150.0, "seams": SEAMS} | more))


def bent_cup() -> Cup:
    points = (ProfilePoint(30.0, 120.0), ProfilePoint(45.0, 70.0), ProfilePoint(33.0, 0.0))
    return Cup(
        name="bent",
        rim_radius_mm=30.0,
        base_radius_mm=33.0,
        wall_mm=sum(math.dist(*pair) for pair in pairwise(points)),
        profile=points,
        seams=SEAMS,
    )


def ramp() -> Artwork:
    """Red grows to the right and green downwards, from 0 to 255."""
    pixels = np.zeros((256, 256, 3), dtype=np.uint8)
    pixels[:, :, 0] = np.arange(256)
    pixels[:, :, 1] = np.arange(256)[:, None]
    return Artwork(pixels)


def laid(cup: Cup, **panel):
    (found,) = laid_panels([Panel(**panel)], Site.of(cup, PATTERN), {"ramp.png": ramp()})
    return found


@given(
    st.floats(-3.0, 9.0),
    st.floats(0.05, 2 * math.pi - 0.05),
    st.floats(0.02, 0.98),
    st.floats(0.02, 0.98),
    st.sampled_from([-1, 0, 2]),
)
def test_a_picture_is_drawn_out_evenly_over_its_panel(start, wide, right, along, turns):
    cup = a_cup()
    panel = laid(cup, from_around=start, to_around=start + wide, top_mm=10.0, bottom_mm=140.0, image="ramp.png")
    around, down = start + right * wide + turns * 2 * math.pi, 10.0 + along * 130.0
    red, green, blue = panel.colours(np.array([around]), np.array([down]))[0]
    # a pixel's middle is half a pixel inside it
    assert red == pytest.approx(np.clip(right * 256 - 0.5, 0, 255), abs=0.01)
    assert green == pytest.approx(np.clip(along * 256 - 0.5, 0, 255), abs=0.01)
    assert blue == 0


def test_between_leaning_seams_the_sides_follow_the_seams():
    site = Site.of(a_cup(), PATTERN)
    panel = laid(a_cup(), from_around="back", to_around="front", image="ramp.png")
    for down in (0.0, 40.0, 150.0):
        left, right = site.around_rad("back", down), site.around_rad("front", down) + 2 * math.pi
        first, last = (np.interp(down, panel.down_mm, side) for side in (panel.from_rad, panel.to_rad))
        assert first == pytest.approx(left, abs=2e-4) and last == pytest.approx(right, abs=2e-4)
        inside = panel.colours(np.array([left + 0.01, right - 0.01]), np.array([down, down]))
        assert inside[0, 0] < 2 and inside[1, 0] > 253


def test_a_panel_from_a_place_to_itself_goes_once_round():
    panel = laid(a_cup(), from_around=0.5, to_around=0.5, colour="#334455")
    assert panel.to_rad - panel.from_rad == pytest.approx(np.full(len(panel.down_mm), 2 * math.pi))
    parts = list(parts_of_panel(panel, 0.0, 2 * math.pi))
    assert sum(part.area for part in parts) == pytest.approx(2 * math.pi * 150.0)


@pytest.mark.parametrize("cup", [a_cup(), a_cup(base_radius_mm=43.0), a_cup(base_radius_mm=60.0), bent_cup()])
def test_the_place_that_a_point_of_the_flat_picture_shows_is_laid_there(cup):
    for band in bands_of(bare_wall(cup)):
        turn, down = np.meshgrid(np.linspace(-3.1, 3.1, 9), np.linspace(band.low_mm, band.high_mm, 7))
        found = band.spots(*band.laid(turn, down))
        assert np.allclose(found[0], turn, atol=1e-9) and np.allclose(found[1], down, atol=1e-8)


def colour_at(drawing, x: float, y: float, view=None):
    """The colour of the picture that lies at a point of a drawing, as it was before it was packed; None: none does."""
    import io

    import shapely
    from PIL import Image

    items = [item for item in drawing.walk() if isinstance(item, GroupItem) and item.role == "panel"]
    for group in items:
        if not shapely.Polygon(group.clip.points(0.02)).contains(shapely.Point(x, y)):
            continue
        (image,) = group.items
        assert isinstance(image, ImageItem)
        pixels = np.asarray(Image.open(io.BytesIO(image.jpeg)))
        row = int((y - image.y_mm) / image.height_mm * len(pixels))
        column = int((x - image.x_mm) / image.width_mm * len(pixels[0]))
        return pixels[row, column].astype(float)
    return None


@pytest.mark.parametrize("cup", [a_cup(), bent_cup()])
def test_on_the_flat_picture_each_place_has_the_colour_of_the_panel_there(cup):
    from stripegen.flatsheet import fitted_sheet
    from stripegen.flatview import SEVERAL_HEIGHT_MM, SHEET_HEIGHT_MM, SHEET_WIDTH_MM

    decoration = decorate(cup, PATTERN)
    panel = laid(cup, from_around=0.4, to_around=4.0, image="ramp.png")
    drawing = flat_view("P", decoration, lambda role: (role, "#112233"), panels=[panel])
    sheet = fitted_sheet(decoration, SHEET_WIDTH_MM, SHEET_HEIGHT_MM, SEVERAL_HEIGHT_MM)
    # where the sheet stands on the page is told by the wall's own outline
    walls = [item for item in drawing.walk() if item.role == "wall"]
    left = min(min(x for x, _ in item.shapes[0].points(0.05)) for item in walls)
    top = min(min(y for _, y in item.shapes[0].points(0.05)) for item in walls)
    own = [ring.points(0.05) for ring in sheet.belts(0.0, sheet.wall.wall_mm)]
    dx = left - min(x for ring in own for x, _ in ring)
    dy = top - min(y for ring in own for _, y in ring)
    for around in (0.7, 1.9, 3.5):
        for share in (0.2, 0.45, 0.8):
            down = share * sheet.wall.wall_mm
            turned = around if around > sheet.start_rad else around + 2 * math.pi
            x, y = sheet.place(turned, down)
            seen = colour_at(drawing, x + dx, y + dy)
            wanted = panel.colours(np.array([around]), np.array([down]))[0]
            assert seen is not None and np.abs(seen - wanted).max() < 8  # JPEG and a pixel's width


def test_a_colour_alone_is_a_filled_path_under_the_strips():
    decoration = decorate(a_cup(), PATTERN)
    panel = laid(a_cup(), from_around=0.0, to_around=2.0, colour="#336699")
    for drawing in (
        flat_view("P", decoration, lambda role: (role, "#112233"), panels=[panel]),
        side_views("P", decoration, lambda role: (role, "#112233"), panels=[panel]),
    ):
        roles = [item.role for item in drawing.walk()]
        assert roles.index("panel") < roles.index("strip")
