"""Whether the vinyls of an order can be told apart, and each from the cup: by how different colours look to the eye.

The difference is CIEDE2000 in CIELAB under the daylight D65 for which sRGB is defined: 1 is just seen by a trained eye
between large fields that meet. Formula and names after G. Sharma, W. Wu and E. N. Dalal, The CIEDE2000 Color-Difference
Formula: Implementation Notes, Supplementary Test Data, and Mathematical Observations, Color Research and Application
30(1), 2005. From sRGB by IEC 61966-2-1.
"""

from __future__ import annotations

import math
from itertools import combinations

from stripegen.decoration import Decoration
from stripegen.errors import Figure, Notice
from stripegen.spec import Cup, Job, Order

ALIKE = 6.0  # of two stripes a few millimetres wide, by the light of a room
ALIKE_CUP = 3.0  # what is nearly the cup's colour may be meant to be
WHITE = (0.95047, 1.0, 1.08883)  # of D65
UNKNOWN_CUP = Cup.__dataclass_fields__["colour"].default

Lab = tuple[float, float, float]


def colour_notices(job: Job, order: Order, decoration: Decoration) -> list[Notice]:
    """A warning for each two vinyls of an order that look alike, and for one that looks like the bare cup.

    A cup with panels, or whose colour is left out, is not compared.
    """
    lines: dict[str, list[str]] = {}
    for laid in decoration.lines:
        lines.setdefault(job.vinyl_of(order, laid.line.vinyl).name, []).append(laid.line.name)
    labs = {name: lab(job.vinyls[name].colour) for name in lines}
    found = []
    for first, second in combinations(lines, 2):
        apart = difference(labs[first], labs[second])
        if apart < ALIKE:
            message = (
                f"{first} ({', '.join(lines[first])}) and {second} ({', '.join(lines[second])}) have colours that are "
                f"hard to tell apart: a difference of {apart:.1f}, and {ALIKE:g} is seen on narrow stripes"
            )
            found.append(Notice(code="alike-colours", message=message, figures=_figures(apart, ALIKE)))
    cup = job.cup_of(order)
    if cup.colour == UNKNOWN_CUP or cup.panels:
        return found
    for name, own in lines.items():
        apart = difference(labs[name], lab(cup.colour))
        if apart < ALIKE_CUP:
            message = (
                f"{name} ({', '.join(own)}) has nearly the colour of the cup {cup.name}: "
                f"a difference of {apart:.1f}, and {ALIKE_CUP:g} is seen"
            )
            found.append(Notice(code="alike-cup", message=message, figures=_figures(apart, ALIKE_CUP)))
    return found


def _figures(apart: float, least: float) -> tuple[Figure, ...]:
    return Figure("difference", apart, "CIEDE2000"), Figure("least", least, "CIEDE2000")


def lab(colour: str) -> Lab:
    """CIELAB of a colour written ``#rrggbb``."""
    red, green, blue = (_linear(int(colour[at : at + 2], 16) / 255) for at in (1, 3, 5))
    x = 0.4124 * red + 0.3576 * green + 0.1805 * blue
    y = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    z = 0.0193 * red + 0.1192 * green + 0.9505 * blue
    fx, fy, fz = (_f(value / white) for value, white in zip((x, y, z), WHITE, strict=True))
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)


def difference(first: Lab, second: Lab) -> float:
    """CIEDE2000 of two colours in CIELAB."""
    (l1, a1, b1), (l2, a2, b2) = first, second
    chroma7 = ((math.hypot(a1, b1) + math.hypot(a2, b2)) / 2) ** 7
    g = 0.5 * (1 - math.sqrt(chroma7 / (chroma7 + 25.0**7)))
    a1, a2 = (1 + g) * a1, (1 + g) * a2
    c1, c2 = math.hypot(a1, b1), math.hypot(a2, b2)
    h1, h2 = (math.degrees(math.atan2(b, a)) % 360 for a, b in ((a1, b1), (a2, b2)))
    turn = (h2 - h1 + 180) % 360 - 180 if c1 and c2 else 0.0
    if turn == -180 and h2 > h1:
        turn = 180.0
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn / 2))
    light, chroma = (l1 + l2) / 2, (c1 + c2) / 2
    hue = h1 + h2
    if c1 and c2:
        hue = hue / 2 if abs(h1 - h2) <= 180 else (hue + 360) / 2 if hue < 360 else (hue - 360) / 2
    t = (
        1
        - 0.17 * _cos(hue - 30)
        + 0.24 * _cos(2 * hue)
        + 0.32 * _cos(3 * hue + 6)
        - 0.20 * _cos(4 * hue - 63)
    )
    sl = 1 + 0.015 * (light - 50) ** 2 / math.sqrt(20 + (light - 50) ** 2)
    sc, sh = 1 + 0.045 * chroma, 1 + 0.015 * chroma * t
    bend = 60 * math.exp(-(((hue - 275) / 25) ** 2))
    rt = -2 * math.sqrt(chroma**7 / (chroma**7 + 25.0**7)) * math.sin(math.radians(bend))
    return math.sqrt((dl / sl) ** 2 + (dc / sc) ** 2 + (dh / sh) ** 2 + rt * (dc / sc) * (dh / sh))


def _cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))


def _linear(share: float) -> float:
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def _f(share: float) -> float:
    return share ** (1 / 3) if share > (6 / 29) ** 3 else share / (3 * (6 / 29) ** 2) + 4 / 29
