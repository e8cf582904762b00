import json

import pytest

from stripegen.jobfile import parse_job
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.results import sheets_result
from stripegen.sheets import lay_out
from stripegen.shownsheets import sheets_of_manifest, shown_sheets


@pytest.fixture(scope="module")
def made():
    from conftest import JOB

    production = produce(parse_job(JOB, "week.toml", lambda kind, name: None))
    sheets = lay_out(production, "strips", lay_in_reading_order, prove)
    manifest = json.loads(sheets_result("strips", production, sheets, None).files["strips.json"])
    return production, sheets, manifest


def test_sheets_read_back_from_a_manifest_are_those_of_the_layout(made):
    production, sheets, manifest = made
    shown = shown_sheets(sheets)
    assert sum(len(sheet.placed) for sheet in shown) == len(production.pieces)
    for own, read in zip(shown, sheets_of_manifest(manifest, production.pieces), strict=True):
        assert (own.name, own.vinyl) == (read.name, read.vinyl)
        assert (own.width_mm, own.length_mm) == pytest.approx((read.width_mm, read.length_mm))
        for (piece, *place), (other, *other_place) in zip(sorted(own.placed), sorted(read.placed), strict=True):
            assert piece == other and place == pytest.approx(other_place, abs=1e-5)


def changed(manifest: dict, how) -> dict:
    copy = json.loads(json.dumps(manifest))
    how(copy)
    return copy


@pytest.mark.parametrize(
    "how",
    [
        lambda made: made["pieces"].pop(),
        lambda made: made["pieces"][0].update(vinyl="ink"),
        lambda made: made["pieces"][0]["outline"][0].__setitem__(0, 0.5),
        lambda made: made["pieces"][0].pop("placement"),
        lambda made: made["sheets"][0].update(width="wide"),
        lambda made: made.pop("sheets"),
        lambda made: made.update(pieces=7),
    ],
)
def test_a_manifest_of_other_pieces_or_of_none_is_not_shown(made, how):
    production, _, manifest = made
    assert sheets_of_manifest(changed(manifest, how), production.pieces) is None


def test_some_pieces_of_a_manifest_are_shown_where_others_may_be_there_too(made):
    production, _, manifest = made
    some = production.pieces[:3]
    assert sheets_of_manifest(manifest, some) is None
    assert sheets_of_manifest(manifest, some, others_too=True) == sheets_of_manifest(manifest, production.pieces)
    lacking = changed(manifest, lambda made: made["pieces"].pop(1))
    assert sheets_of_manifest(lacking, some, others_too=True) is None


@pytest.mark.parametrize("manifest", [None, [], {}, "text", 3])
def test_what_is_no_manifest_is_not_shown(made, manifest):
    assert sheets_of_manifest(manifest, made[0].pieces) is None
