"""A drawing as PDF or PNG bytes, through CairoSVG; both are loaded when the first page is written.

A PDF page is the drawing at true size. Its bytes depend on the drawing, on the versions of CairoSVG and cairo
and, where it holds text, on the fonts of the machine, and on nothing else: the time of day, which cairo would
put in, is left out. cairo keeps a page's coordinates to 1/256 point, so that no point moves by more than
0.0007 mm each way.
"""

from __future__ import annotations

import io
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from types import ModuleType

from stripegen.drawing import Drawing
from stripegen.errors import StripegenError
from stripegen.writers.svg import drawing_svg

PNG_MOST_PX = 16_000
"""A picture's longer side has no more pixels than this: cairo takes no more than 32,767."""

OLDEST_CAIRO = 11600
"""The first that can leave out the time of day: 1.16.0."""

_REMEDY = {
    "linux": "install it with 'sudo apt install libcairo2', or your system's own package of cairo",
    "darwin": "install it with your package manager: 'brew install cairo' or 'sudo port install cairo'",
    "win32": "install a GTK runtime for Windows, which brings cairo along, and open a new command window",
}


class CairoMissing(StripegenError):
    """The cairo library, which draws PDF and PNG, can't be loaded."""


def drawing_pdf(drawing: Drawing) -> bytes:
    """The drawing as a PDF of one page at true size.

    Raises
    ------
    CairoMissing    if cairo can't be loaded
    """
    return drawings_pdf([drawing])


def drawings_pdf(drawings: Sequence[Drawing]) -> bytes:
    """Drawings as the pages of one PDF, each at its own true size.

    Raises
    ------
    CairoMissing    if cairo can't be loaded
    """
    surface = _surfaces()
    output = io.BytesIO()
    document = None

    class Page(surface.PDFSurface):
        def _create_surface(self, width, height):
            nonlocal document
            if document is None:
                with _uninterrupted():
                    document = surface.cairo.PDFSurface(self.output, width, height)
                # an empty date leaves the line out; cairo would write the present time
                document.set_metadata(surface.cairo.PDF_METADATA_CREATE_DATE, "")
            else:
                document.set_size(width, height)
            return document, width, height

        def finish(self):
            with _uninterrupted():
                document.show_page()

    for drawing in drawings:
        Page.convert(_svg(drawing), write_to=output)
    if document is None:
        raise ValueError("a PDF needs a page")
    with _uninterrupted():
        document.finish()
    return output.getvalue()


def drawing_png(drawing: Drawing, pixels_per_mm: float = 4.0) -> bytes:
    """The drawing as a PNG picture on white; fewer pixels, if a side would have more than 16,000.

    Raises
    ------
    CairoMissing    if cairo can't be loaded
    """
    surface = _surfaces()
    density = min(pixels_per_mm, PNG_MOST_PX / max(drawing.width_mm, drawing.height_mm))
    size = [max(1, round(side * density)) for side in (drawing.width_mm, drawing.height_mm)]
    svg = _svg(drawing)
    with _uninterrupted():
        return surface.PNGSurface.convert(
            svg, background_color="#ffffff", output_width=size[0], output_height=size[1]
        )


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Keeps Ctrl-C back while cairo writes: the function that takes its bytes can't hand an exception on to us."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came = []
    before = signal.signal(signal.SIGINT, lambda *_: came.append(True))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        if came:
            signal.raise_signal(signal.SIGINT)


def _svg(drawing: Drawing) -> bytes:
    # cairo draws circle arcs only to a tenth of a point
    return drawing_svg(drawing, arcs_as_cubics=True).encode("utf-8")


def _surfaces() -> ModuleType:
    try:
        from cairosvg import surface
    except (ImportError, OSError) as error:  # OSError: CairoSVG is there, but the library it calls is not
        raise CairoMissing(f"no PDF or PNG: the cairo library was not found: {_remedy()}") from error
    if surface.cairo.cairo_version() < OLDEST_CAIRO:
        raise CairoMissing(f"no PDF or PNG: the cairo library is older than 1.16: {_remedy()}")
    return surface


def _remedy() -> str:
    return _REMEDY.get(sys.platform, _REMEDY["linux"])
