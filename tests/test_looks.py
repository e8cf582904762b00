from stripegen.jobfile import parse_job
from stripegen.looks import looks_of
from stripegen.pictures import in_painting_order
from stripegen.presets import find_preset
from stripegen.production import produce

ORDER = '[[order]]\nid = "{}"\ncup = "tall-tapered"\npattern = "{}"\nvinyl = "{}"\nquantity = {}\n{}\n'


def looks(*orders):
    text = "".join(ORDER.format(*order) for order in orders)
    return looks_of(produce(parse_job(text, "week.toml", find_preset)))


def test_orders_that_look_alike_share_a_look():
    found = looks(
        ("O-1", "sash", "navy-blue", 2, ""),
        ("O-2", "sash", "matt-black", 1, ""),
        ("O-3", "sash", "navy-blue", 5, ""),
        ("O-4", "sash", "navy-blue", 1, "seams = { back = 170 }"),
        ("O-5", "seam-stripes", "navy-blue", 1, ""),
        ("O-6", "sash", "navy-blue", 1, 'panels = [ { from = 0, to = 90, colour = "#aabbcc" } ]'),
    )
    assert [[order.id for order in look.orders] for look in found] == [["O-1", "O-3"], ["O-2"], ["O-4"], ["O-5"], ["O-6"]]
    assert [len(look.panels) for look in found] == [0, 0, 0, 0, 1]


def test_a_look_shows_each_piece_of_one_cup_once_what_lies_under_first():
    (look,) = looks(("O-1", "lattice", "navy-blue", 3, ""))
    lines = [line.name for line in in_painting_order([laid.line for laid in look.decoration.lines])]
    places = [lines.index(seen.painted.line) for seen in look.strips]
    assert places == sorted(places)
    names = [seen.name for seen in look.strips]
    wanted = [f"{laid.line.name}.{n}" for laid in look.decoration.lines for n in range(1, len(laid.strips) + 1)]
    assert sorted(names) == sorted(wanted)
    assert len({seen.painted.id for seen in look.strips}) == len(names)
    assert all(seen.piece.id == f"O-1.1.{seen.name}" for seen in look.strips)
