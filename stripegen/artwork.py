"""Pictures printed on panels: read, made small enough to be shown, and sampled. Loaded only where a job has some."""

from __future__ import annotations

import base64
import io
import warnings
from dataclasses import dataclass

import numpy as np
from PIL import Image

LARGEST_BYTES = 20_000_000
MOST_PIXELS = 60_000_000
MOST_SIDE = 1600  # of what is kept: more is not seen in a picture of a cup
QUALITY = 85
FORMATS = ("PNG", "JPEG")


@dataclass(frozen=True, eq=False)
class Artwork:
    """A picture as pixels (height, width, 3), bytes of red, green and blue; what was clear is white."""

    pixels: np.ndarray

    def sampled(self, right: np.ndarray, down: np.ndarray) -> np.ndarray:
        """Its colours at shares 0 to 1 of its width and height, as floats (..., 3), evened between pixels."""
        high, wide = self.pixels.shape[:2]
        x = np.clip(right * wide - 0.5, 0, wide - 1)
        y = np.clip(down * high - 0.5, 0, high - 1)
        x0, y0 = np.floor(x).astype(int), np.floor(y).astype(int)
        x1, y1 = np.minimum(x0 + 1, wide - 1), np.minimum(y0 + 1, high - 1)
        fx, fy = (x - x0)[..., None], (y - y0)[..., None]
        upper = self.pixels[y0, x0] * (1 - fx) + self.pixels[y0, x1] * fx
        lower = self.pixels[y1, x0] * (1 - fx) + self.pixels[y1, x1] * fx
        return upper * (1 - fy) + lower * fy


def read_artwork(data: bytes) -> Artwork:
    """A PNG or JPEG file's picture. Raises ValueError with what is wrong."""
    if len(data) > LARGEST_BYTES:
        raise ValueError(f"a picture may have {LARGEST_BYTES // 1_000_000} MB")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of odd colour profiles; sizes are looked at here
            image = Image.open(io.BytesIO(data), formats=FORMATS)
            if image.width * image.height > MOST_PIXELS:
                raise ValueError(f"a picture may have {MOST_PIXELS // 1_000_000} million pixels")
            image.thumbnail((MOST_SIDE, MOST_SIDE))
            image = image.convert("RGBA")
    except (OSError, SyntaxError, Image.DecompressionBombError, EOFError, IndexError, TypeError) as error:
        raise ValueError("it can't be read as a PNG or JPEG picture") from error
    ground = Image.new("RGBA", image.size, "#ffffff")
    return Artwork(np.asarray(Image.alpha_composite(ground, image).convert("RGB"), dtype=np.uint8))


def jpeg(pixels: np.ndarray) -> bytes:
    """Pixels (height, width, 3) as a JPEG file."""
    held = io.BytesIO()
    Image.fromarray(np.clip(np.rint(pixels), 0, 255).astype(np.uint8), "RGB").save(held, "JPEG", quality=QUALITY)
    return held.getvalue()


def mean_colour(art: Artwork) -> str:
    """The mean of a picture's colours, written #rrggbb."""
    return "#" + "".join(f"{round(float(value)):02x}" for value in art.pixels.reshape(-1, 3).mean(axis=0))


def smaller(pixels: np.ndarray, most: int) -> np.ndarray:
    """Pixels with at most so many along a side."""
    image = Image.fromarray(pixels, "RGB")
    image.thumbnail((most, most))
    return np.asarray(image)


def data_address(data: bytes) -> str:
    """A JPEG file as an address that holds it."""
    return "data:image/jpeg;base64," + base64.b64encode(data).decode("ascii")
