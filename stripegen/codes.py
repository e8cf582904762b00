"""The codes of all that can be wrong with a job: what each means, and what to do about it.

A fault stops a job from being cut, a warning does not. The README's tables hold the same codes.
"""

from __future__ import annotations

from typing import NamedTuple

FAULT, WARNING = "fault", "warning"
SEVERITIES = (FAULT, WARNING)


class Code(NamedTuple):
    """`remedy` is told where nothing better is known; `key` is that of the line's or order's table which it speaks of."""

    severity: str
    means: str
    remedy: str
    key: str = ""


CODES: dict[str, Code] = {
    # ---- faults
    "job-text": Code(FAULT, "the job's text says what can't be right", "put it right as told"),
    "picture": Code(FAULT, "a panel's picture can't be read", "put the picture beside the job file, or take it out of the panel"),
    "cannot-lay": Code(FAULT, "the line can't lie on this cup as told", "move the line, or make it narrower or shorter"),
    "cannot-cut": Code(FAULT, "the strips can't be cut from this vinyl as told", "use a larger vinyl, or a narrower or shorter line"),
    "too-many": Code(FAULT, "the job has more pieces than can be laid out", "part the job in two"),
    "nothing-to-cut": Code(FAULT, "every strip is too narrow for its vinyl", "make them wider, or lower the vinyl's min_width"),
    "no-fit": Code(FAULT, "a piece fits no sheet", "use a larger sheet or a roll, or split = true on its line"),
    "too-little": Code(FAULT, "there is not enough of a vinyl in hand", "have more of it in hand"),
    "no-layout": Code(FAULT, "the pieces can't be laid out", "nest fewer at once"),
    # ---- warnings: limits of the wall
    "cut-off": Code(
        WARNING,
        "strips reach into a clearance or a keepout and are cut off there",
        "move or shorten the line, if that is not what is meant",
    ),
    "ring-open": Code(
        WARNING,
        "a ring or zigzag is cut open by a keepout: it does not close round the cup",
        "move it past the keepout, if it is to close",
    ),
    "near-lip": Code(
        WARNING,
        "a line ends nearer than 6 mm to the rim, where lips touch and the last coat must seal its edge",
        "keep more clear of the rim (12 mm if rim_clearance is left out)",
    ),
    "near-base": Code(
        WARNING,
        "a line ends nearer than 2 mm to the foot of the wall, where the cup stands and resin gathers",
        "keep more clear of the base (6 mm if base_clearance is left out)",
    ),
    "near-keepout": Code(
        WARNING,
        "a line passes a keepout by less than 1 mm: nobody lays it so closely beside a handle",
        "move the line, or make the keepout wider so that the line is cut there",
    ),
    "hair-off": Code(
        WARNING,
        "a line ends less than 0.3 mm short of a clearance: a slip, since other lines end on it",
        "let it run to the clearance, or end it clearly before",
    ),
    "dropped": Code(
        WARNING,
        "bits of a line that its cuts leave over, or that would be hidden, are not cut",
        "look at the preview; move what cuts it, if the bit was wanted",
    ),
    # ---- warnings: lines and each other
    "too-close": Code(
        WARNING,
        "lines touch without being joined, or come nearer than can be weeded or than --min-gap",
        "move one of them, or make one narrower",
    ),
    "not-measured": Code(
        WARNING,
        "the distances between an order's lines can't be measured, so nothing is told of what is too near",
        "lay one cup first, or make its lines simpler",
    ),
    "gap-closes": Code(
        WARNING,
        "the gap between a line's stripes narrows with the cup to less than can be weeded or laid",
        "make the gap at the rim wider, or leave narrows out",
        "gap",
    ),
    "thin-gap": Code(
        WARNING,
        "the gap between a line's stripes is less than can be weeded or laid evenly",
        "make the gap wider, or 0 for one wide stripe",
        "gap",
    ),
    "narrow-end": Code(
        WARNING,
        "a stripe narrows with the cup to less than its vinyl can be weeded at",
        "make it wider at the rim, or leave narrows out",
        "width",
    ),
    "hidden": Code(
        WARNING,
        "strips lie wholly under others that are laid later: nobody would see them",
        "leave them out, or list the line after the one that hides it",
    ),
    "lie-along": Code(
        WARNING,
        "two lines cross so slantingly that they lie on each other for a long way",
        "let them cross more squarely, or say under or clear_of",
    ),
    "small-tuck": Code(
        WARNING,
        "a tuck of less than 1 mm: a strip laid by hand strays by as much, and a gap would show",
        "make tuck 1 mm or more (1.5 mm if left out)",
        "tuck",
    ),
    "open-seam": Code(
        WARNING,
        "panels gape at a seam, and no stripe over it is 3 mm wider",
        "make the stripe over the seam wider",
    ),
    "joint-may-open": Code(
        WARNING,
        "an error of 1 mm in a measure would open a joint by more than it overlaps",
        "make the overlap larger",
        "overlap",
    ),
    "stack-too-thick": Code(
        WARNING,
        "film on film is thicker than the coat that comes over it",
        "use thinner film or a thicker coat",
    ),
    # ---- warnings: what is cut of a vinyl
    "too-narrow": Code(
        WARNING,
        "strips nowhere as wide as their vinyl can be weeded at are not cut",
        "make the line wider",
        "width",
    ),
    "blunted": Code(
        WARNING,
        "tips narrower than their vinyl can be weeded at are cut off",
        "let the line end more squarely, if the tip is missed",
    ),
    "thin-tip": Code(
        WARNING,
        "tips too narrow to weed, and too long to be cut off",
        'let the line end more squarely, with ends = "square"',
        "ends",
    ),
    "strain": Code(
        WARNING,
        "the edges of a strip would have to stretch more than the film does",
        "make it narrower, or slit = true",
        "width",
    ),
    "split": Code(
        WARNING,
        "strips too long for the vinyl or the cutter are cut in parts that overlap",
        "use a longer sheet or a roll, if you want no joints",
    ),
    "apart": Code(
        WARNING,
        "pieces that were to stay together run over a bend of the wall, and are carried over one by one",
        "look at the guide for where they go",
    ),
    "corner-radius": Code(
        WARNING,
        "corner_radius has no effect where strips share cuts or a whole pattern is together",
        "leave one of the two out",
    ),
    # ---- warnings: colours and roles
    "alike-colours": Code(
        WARNING,
        "two vinyls of an order have colours that are hard to tell apart",
        "bind another vinyl, if they are to differ",
        "vinyl",
    ),
    "alike-cup": Code(
        WARNING,
        "a vinyl has nearly the colour of the cup that it lies on",
        "bind another vinyl, if the line is to stand out",
        "vinyl",
    ),
    "unused-role": Code(
        WARNING,
        "an order binds a role that no line of its pattern has",
        "is it spelt as in the pattern?",
        "vinyl",
    ),
    # ---- warnings: of sheets and papers, from the commands that write them
    "off-mat": Code(WARNING, "an offcut is larger than the mat and is cut by itself", "have a larger mat, or leave the offcut out"),
    "long-page": Code(WARNING, "a sheet's PDF is longer than many programs read", "use the SVG"),
    "no-pen-mark": Code(WARNING, "pieces are too narrow for a mark by the pen", "see the key"),
    "guide-off": Code(WARNING, "such a wall can't be laid flat, so its paper guide is a little off", "see how far, and share that out"),
    "changed": Code(WARNING, "pieces have another shape or vinyl than in the nest before, and are cut again", "see that it is meant"),
    "in-hand": Code(
        WARNING,
        "what is in hand of a vinyl is taken to be there after the nest before is cut",
        "see the offcuts.toml beside it",
    ),
    "taken-for-granted": Code(
        WARNING,
        "an older result does not tell how a vinyl is cut, so usual values are taken",
        "check margin and gap, and give --margin and --gap if they differ",
    ),
}
