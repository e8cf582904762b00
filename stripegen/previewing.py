"""The pictures of one order before anything is cut: the wall laid flat and the four sides."""

from __future__ import annotations

from stripegen.decoration import Decoration
from stripegen.drawing import Drawing
from stripegen.flatview import flat_view
from stripegen.pictures import ColourOfRole
from stripegen.sideview import side_views
from stripegen.spacing import Spacing


def preview_pictures(
    order_title: str, decoration: Decoration, colour_of_role: ColourOfRole, spacing: Spacing | None = None
) -> dict[str, Drawing]:
    """Both pictures by name: "flat" and "sides".

    `colour_of_role` maps a line's role to the name and the colour of the vinyl that the order binds to it.
    `spacing` spares measuring a decoration twice.
    """
    return {
        "flat": flat_view(order_title, decoration, colour_of_role, spacing),
        "sides": side_views(order_title, decoration, colour_of_role),
    }
