"""The names of a pattern's lines, and what lines say of each other by them: no two alike, no circle."""

from __future__ import annotations

from collections.abc import Mapping

from stripegen.nearmiss import did_you_mean
from stripegen.spec import Line
from stripegen.tables import Table, is_name, show


def check_names(tables: list[Table]) -> None:
    """Fault every line that has the name of one before it."""
    first: dict[str, str] = {}
    for table in tables:
        name = table.values.get("name")
        if not is_name(name):
            continue
        if name.casefold() in first:
            table.fault(
                "name", f'is the name of "{first[name.casefold()]}" (case does not count): must differ'
            )
        first.setdefault(name.casefold(), name)


def check_references(tables: list[Table], lines: list[Line | None]) -> None:
    """Check the names in `under` and `clear_of`: lines of the pattern, tucks that fit, no circles."""
    names = [table.values["name"] for table in tables if is_name(table.values.get("name"))]
    by_name = {line.name: line for line in lines if line}
    for table, line in zip(tables, lines, strict=True):
        own = table.values.get("name")
        for key in ("under", "clear_of"):
            named = table.values.get(key, [])
            for other in named if isinstance(named, list) else [named]:
                if not is_name(other):
                    continue  # told already
                if other == own:
                    table.fault(key, "must name other lines, not the line itself")
                elif other not in names:
                    known = did_you_mean(other, [name for name in names if name != own]) or ": " + ", ".join(names[:20])
                    table.fault(key, f"must name lines of this pattern{known}", read=show(other))
                elif key == "under" and line and other in by_name:
                    half_mm = by_name[other].full_width_mm / 2
                    if line.tuck_mm >= half_mm:
                        table.fault(
                            "tuck",
                            f"must be less than {half_mm:g} mm, half the width of the line"
                            f' "{other}": with more there is nothing left to cut away',
                            read=show(table.values["tuck"])
                            if "tuck" in table
                            else f"{line.tuck_mm:g} mm (the default)",
                        )
    circle = _circle({line.name: (*line.under, *line.clear_of) for line in lines if line})
    if circle:
        table = next(table for table in tables if table.values.get("name") == circle[0])
        key = "under" if circle[1] in by_name[circle[0]].under else "clear_of"
        table.fault(
            key,
            "goes round in a circle, so that no line can be cut first: break it",
            read=" -> ".join(circle),
        )


def _circle(after: Mapping[str, tuple[str, ...]]) -> list[str] | None:
    """A circle in a graph, its first node told again at the end; None where there is none."""
    done: set[str] = set()
    for root in after:
        path: list[str] = []
        branches = [iter((root,))]
        while branches:
            node = next((other for other in branches[-1] if other in after and other not in done), None)
            if node is None:
                branches.pop()
                if path:
                    done.add(path.pop())
            elif node in path:
                if path.index(node) < len(path) - 1:
                    return [*path[path.index(node) :], node]
            else:
                path.append(node)
                branches.append(iter(after[node]))
    return None
