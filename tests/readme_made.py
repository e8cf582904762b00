"""What of the README is made by the tool: its pictures and its page of every key. To renew them:

    python tests/readme_made.py
"""

from __future__ import annotations

import re
import shlex
import sys
import tempfile
from collections.abc import Sequence
from contextlib import chdir
from pathlib import Path
from unittest.mock import patch

from click.testing import CliRunner
from measuring_picture import how_to_measure

from stripegen.cli import main
from stripegen.drawing import Drawing, GroupItem, Item, PathItem, TextItem
from stripegen.jobkeys.page import markdown
from stripegen.writers.pdf import drawings_pdf
from stripegen.writers.svg import drawing_svg

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
PICTURES = ROOT / ".pictures"
KEYS_BEGIN, KEYS_END = "<!-- made by: python tests/readme_made.py -->\n", "<!-- end of what is made -->\n"
PLACES = 2  # of coordinates, enough for a picture


def walk_commands(readme: str) -> list[list[str]]:
    """The commands of the way from tape to cup."""
    walk = readme.partition("\n## From tape to cup\n")[2].partition("\n## ")[0]
    blocks = re.findall(r"```sh\n(.*?)```", walk, re.DOTALL)
    lines = [line for block in blocks for line in block.replace("\\\n", " ").splitlines()]
    return [shlex.split(line.partition("  #")[0]) for line in lines]


def walk(readme: str, folder: Path) -> list[Sequence[Drawing]]:
    """Go the way from tape to cup in a folder; give the pages of each paper that `guide` draws."""
    papers: list[Sequence[Drawing]] = []

    def kept(drawings: Sequence[Drawing]) -> bytes:
        papers.append(drawings)
        return drawings_pdf(drawings)

    with chdir(folder), patch("stripegen.guides.drawings_pdf", kept):
        for command in walk_commands(readme):
            result = CliRunner().invoke(main, command[1:], catch_exceptions=False)
            if result.exit_code:
                raise AssertionError(f"{shlex.join(command)}: {result.output}")
    return papers


def pictures(folder: Path, papers: Sequence[Sequence[Drawing]]) -> dict[str, str]:
    """Each picture by its name, as SVG, of the folder in which the way was gone and the papers that were drawn there."""
    guide, *_, steps = papers
    return {
        "measure": drawing_svg(how_to_measure(), places=PLACES),
        "sides": _written(folder / "out/look/preview-A-1-sides.svg"),
        "flat": _written(folder / "out/look/preview-A-1-flat.svg"),
        "key": _written(folder / "out/cut/sheet-brushed-gold-1-key.svg"),
        "guide": drawing_svg(upper_part(guide[0], 236), places=PLACES),
        "steps": drawing_svg(upper_part(steps[1], 129.5), places=PLACES),
    }


def _written(file: Path) -> str:
    """A picture as a command wrote it, its numbers to fewer places."""
    return re.sub(r"\d+\.\d{3,}", lambda number: f"{float(number[0]):.{PLACES}f}", file.read_text(encoding="utf-8"))


def upper_part(page: Drawing, height_mm: float) -> Drawing:
    """What of a page lies above a height, on the page's own ground."""
    ground, *items = page.items
    return Drawing(page.width_mm, height_mm, (ground, *(item for item in items if _lowest(item) <= height_mm)))


def _lowest(item: Item) -> float:
    match item:
        case TextItem(y_mm=y):
            return y
        case PathItem(shapes=shapes):
            return max(y for shape in shapes for _, y in shape.points(1.0))
        case GroupItem(items=items):
            return max(map(_lowest, items))
    return item.y_mm + item.height_mm


def with_keys(readme: str) -> str:
    """The README with its page of every key made anew."""
    head, begin, rest = readme.partition(KEYS_BEGIN)
    _, end, tail = rest.partition(KEYS_END)
    if not (begin and end):
        raise AssertionError(f"README.md lacks the lines {KEYS_BEGIN}and {KEYS_END}")
    return f"{head}{begin}\n{markdown()}\n{end}{tail}"


def renew() -> None:
    """Make all of it anew."""
    text = with_keys(README.read_text(encoding="utf-8"))
    README.write_text(text, encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        papers = walk(text, Path(folder))
        for name, svg in pictures(Path(folder), papers).items():
            (PICTURES / f"{name}.svg").write_text(svg, encoding="utf-8")


if __name__ == "__main__":
    sys.exit(renew())
