import io

import numpy as np
import pytest
from PIL import Image

from stripegen.artwork import LARGEST_BYTES, MOST_SIDE, Artwork, jpeg, mean_colour, read_artwork


def file_of(image: Image.Image, kind: str = "PNG") -> bytes:
    held = io.BytesIO()
    image.save(held, kind)
    return held.getvalue()


def test_a_png_is_read_pixel_by_pixel_and_what_is_clear_is_white():
    image = Image.new("RGBA", (3, 2), (10, 20, 30, 255))
    image.putpixel((1, 1), (200, 0, 0, 0))
    pixels = read_artwork(file_of(image)).pixels
    assert pixels.shape == (2, 3, 3)
    assert pixels[0, 0].tolist() == [10, 20, 30] and pixels[1, 1].tolist() == [255, 255, 255]


@pytest.mark.parametrize("mode", ["L", "P", "1", "LA", "RGB", "CMYK"])
def test_every_kind_of_picture_is_read(mode):
    kind = "JPEG" if mode == "CMYK" else "PNG"
    assert read_artwork(file_of(Image.new(mode, (5, 4)), kind)).pixels.shape == (4, 5, 3)


def test_a_large_picture_is_made_smaller_in_proportion():
    assert read_artwork(file_of(Image.new("RGB", (4000, 1000)))).pixels.shape == (MOST_SIDE // 4, MOST_SIDE, 3)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"no picture at all",
        file_of(Image.new("RGB", (4, 4)), "GIF"),
        file_of(Image.new("RGB", (40, 40)))[:60],
        file_of(Image.new("RGB", (40, 40)), "JPEG")[:300],
        b"\x89PNG\r\n\x1a\n" + b"\x00" * 50,
        bytes(LARGEST_BYTES + 1),
    ],
)
def test_what_is_no_picture_is_told_so(data):
    with pytest.raises(ValueError, match="picture"):
        read_artwork(data)


def test_a_picture_of_absurd_size_is_refused_before_it_is_unpacked():
    with pytest.raises(ValueError, match="million pixels"):
        read_artwork(file_of(Image.new("1", (10_000, 7_000))))


def test_between_pixels_colours_are_even():
    art = Artwork(np.array([[[0, 0, 0], [200, 100, 50]]], dtype=np.uint8))
    found = art.sampled(np.array([0.25, 0.5, 0.75, 0.0, 1.0]), np.full(5, 0.5))
    assert found.tolist() == [[0, 0, 0], [100, 50, 25], [200, 100, 50], [0, 0, 0], [200, 100, 50]]


def test_a_packed_picture_keeps_its_colours():
    pixels = np.full((16, 16, 3), (40, 120, 200), dtype=float)
    assert np.abs(np.asarray(Image.open(io.BytesIO(jpeg(pixels)))).astype(float) - pixels).max() < 4


def test_the_mean_colour_is_that_of_all_pixels():
    pixels = np.zeros((2, 2, 3), dtype=np.uint8)
    pixels[0, 0] = (200, 100, 40)
    assert mean_colour(Artwork(pixels)) == "#32190a"
