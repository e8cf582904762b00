"""True-length vinyl stripes for tapered cups: from a tape measure to cut files."""

__version__ = "0.1.0"
