"""What a job says, as checked values: cups, vinyls, patterns and orders. Millimetres and radians.

These types know nothing of files. Each keeps `where` it was read, so that a fault found later, on the
wall, can still be told by file and table.
"""

from stripegen.spec.checks import NOWHERE
from stripegen.spec.cups import Cup, Keepout, Misread, ProfilePoint, Seam
from stripegen.spec.jobs import Job, Order
from stripegen.spec.lines import PATHS, Chevron, Diagonal, Line, Pattern, Repeat, Ring, Vertical
from stripegen.spec.places import Along, Around, Down
from stripegen.spec.vinyls import BAND_MM, FILM_LIMIT_MM, Cutter, Offcut, SheetSize, Vinyl

__all__ = [
    "BAND_MM",
    "FILM_LIMIT_MM",
    "NOWHERE",
    "PATHS",
    "Along",
    "Around",
    "Chevron",
    "Cup",
    "Cutter",
    "Diagonal",
    "Down",
    "Job",
    "Keepout",
    "Line",
    "Misread",
    "Offcut",
    "Order",
    "Pattern",
    "ProfilePoint",
    "Repeat",
    "Ring",
    "Seam",
    "SheetSize",
    "Vertical",
    "Vinyl",
]
