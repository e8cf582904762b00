"""What tests read from a manifest, by the manifest's own words and nothing of ours."""

from __future__ import annotations

import math

import numpy as np


def placed_outline(piece: dict) -> np.ndarray:
    """The outer ring of a manifest's piece where it lies on its sheet, (n, 2) in mm."""
    x, y = np.array(piece["outline"]).T
    turn = math.radians(piece["placement"]["turn"])
    dx, dy = piece["placement"]["move"]
    return np.stack(
        [x * math.cos(turn) - y * math.sin(turn) + dx, x * math.sin(turn) + y * math.cos(turn) + dy], axis=1
    )
