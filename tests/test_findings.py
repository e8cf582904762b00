"""A finding checks itself, and alike ones are told once."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from stripegen.codes import CODES, SEVERITIES
from stripegen.errors import Figure, GeometryError, NestError, Shortfall, Where
from stripegen.findings import Finding, gathered
from stripegen.jobfile import parse_job
from stripegen.presets import find_preset

ROOT = Path(__file__).parents[1]


def finding(**more) -> Finding:
    return Finding(**({"code": "split", "where": Where("job.toml", ""), "message": "is", "remedy": "do"} | more))


@pytest.mark.parametrize(
    "wrong", [{"code": "spilt"}, {"message": ""}, {"remedy": "a\nb"}, {"others": ("B",)}, {"message": "a\nb"}]
)
def test_what_can_not_be_is_refused(wrong):
    with pytest.raises(ValueError):
        finding(**wrong)


def test_a_figure_is_a_number():
    with pytest.raises(ValueError, match="gap must be finite"):
        Figure("gap", float("nan"))


def test_what_is_wrong_and_what_to_do_are_told_apart_and_together():
    error = GeometryError("it is too wide", "make it narrower", Figure("width", 4.0))
    assert str(error) == "it is too wide: make it narrower"
    fault = error.fault(Where("job.toml", "[cup.a]"), of="on cup a")
    assert str(fault) == "job.toml: [cup.a]: on cup a, it is too wide: make it narrower"
    assert (fault.right, fault.remedy, fault.figures) == ("on cup a, it is too wide", "make it narrower", error.figures)
    short = Shortfall("no-fit", "it is long", "use a roll", ("A.1.edge.1",))
    assert str(NestError.of(short, short)) == "it is long: use a roll\nit is long: use a roll"


def test_alike_findings_are_one_with_all_their_orders_and_faults_come_first():
    text = "".join(f'[[order]]\nid = "{id}"\ncup = "small-tumbler"\npattern = "sash"\nvinyl = "matt-black"\n\n' for id in "ABC")
    job = parse_job(text, "job.toml", find_preset)
    a, b, c = (order.where for order in job.orders)
    line = Where("job.toml", "[[pattern.p.line]]")
    told = gathered(
        [
            finding(order="A", where=a),
            finding(order="A", where=line, line="edge"),
            finding(order="C", where=c),
            finding(order="B", where=line, line="rim"),
            finding(code="cannot-lay", order="B", where=b, others=("C",)),
        ],
        job,
    )
    assert [(each.code, each.order, each.others, each.line) for each in told] == [
        ("cannot-lay", "B", ("C",), None),
        ("split", "A", ("C",), None),
        ("split", "A", (), "edge"),
        ("split", "B", (), "rim"),
    ]
    assert told[1].where == a


def texts(*nodes: ast.AST) -> set[str]:
    """All the text that stands in parts of a program."""
    found = (node.value for part in nodes for node in ast.walk(part) if isinstance(node, ast.Constant))
    return {value for value in found if isinstance(value, str)}


def test_every_code_that_is_given_is_known_and_each_is_given_somewhere():
    given, used = set(), set()
    for path in (ROOT / "stripegen").glob("*.py"):
        if path.name == "codes.py":
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        used |= texts(tree)
        for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call)):
            name = getattr(call.func, "id", "")
            given |= texts(*(keyword.value for keyword in call.keywords if keyword.arg == "code"))
            given |= texts(*call.args[:1]) if name in ("tell", "OrderFault", "Shortfall") else set()
    assert len(given) > 30
    assert given <= set(CODES) <= used


def test_every_code_is_told_in_the_readme():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    table = readme.partition("<!-- codes -->\n")[2].partition("\n\n")[0].splitlines()[2:]
    assert table == [
        f"| `{name}` | {code.severity} | {code.means} | {code.remedy} |" for name, code in CODES.items()
    ], "write the table anew: a row for each code, in their order"
    assert {code.severity for code in CODES.values()} == set(SEVERITIES)
