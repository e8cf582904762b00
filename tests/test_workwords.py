"""The words of the work list: what each strip's row and each step says."""

from __future__ import annotations

import pytest
from worklists import made

from stripegen.worknumbers import degrees_text, length_text
from stripegen.worksteps import COAT, LAY, SEAL
from stripegen.workwords import (
    MOST_BOXES,
    box_count,
    listed,
    name_text,
    place_texts,
    sheet_texts,
    size_texts,
    step_caution,
    step_text,
    step_title,
)


def test_lists_of_words():
    assert [listed(words.split()) for words in ("a", "a b", "a b c")] == ["a", "a and b", "a, b and c"]


@pytest.mark.parametrize("units", ["mm", "cm", "in"])
@pytest.mark.parametrize("job", ["hard", "some presets"])
def test_each_strips_places_and_sizes_are_told(job, units):
    _, work = made(job)
    for order in work.orders:
        for row in (row for step in order.steps for row in step.rows):
            places = " ".join(place_texts(row, units))
            for strip in row.strips:
                told = places
                if len(row.strips) > 1:
                    told = f"{places} ".partition(f"{strip.name}: ")[2].partition(" ".join(row.strips[0].name.split(".")[:1]) + ".")[0]
                    assert told
                else:
                    assert strip.name in name_text(row)
                ends = [strip.start] if strip.overlap_mm is not None and not strip.part else [strip.start, strip.end]
                for spot in ends:
                    assert length_text(spot.along_mm, units) in told and degrees_text(spot.around_rad) in told
                    assert f"{length_text(spot.down_mm, units)} down" in places
                sizes = " ".join(size_texts(row, units))
                assert length_text(strip.length_mm, units) in sizes


def test_what_belongs_to_a_step_is_told_at_it():
    _, work = made("hard")
    layered, grouped, whole = work.orders
    told = {step_title(step): " ".join(step_text(step, layered, "mm")) for step in layered.steps if step.kind == LAY}
    assert "under cover, laid later" in told["Lay hoop"]
    assert "under top, laid later" in told["Lay slash"]
    assert "Parts of one strip are laid in their order" in told["Lay belt"]
    coats = [" ".join(step_text(step, layered, "mm")) for step in layered.steps if step.kind == COAT]
    assert "1.40 mm" in coats[0] and "0.80 mm more" in coats[0] and "2.00 mm" in coats[1] and "0.60 mm more" in coats[1]
    assert "1.00 mm thick" in step_text(layered.steps[-1], layered, "mm")[0]
    rails = " ".join(step_text(grouped.steps[1], grouped, "mm"))
    assert "transfer tape" in rails and "12 strips of roll on each of 20 cups" in rails
    band = " ".join(step_text(grouped.steps[2], grouped, "mm"))
    assert "A band of 40.0 mm is cut as 2 strips" in band and "once round" in band and "transfer tape" not in band
    assert "transfer tape" in " ".join(step_text(whole.steps[1], whole, "mm"))
    (belt,) = [step for step in layered.steps if step_title(step) == "Lay belt"]
    first, last = (place_texts(row, "mm")[-1] for row in belt.rows)
    assert first == "part 1 of 2"
    assert last == "part 2 of 2, its beginning laps 3.0 mm over part 1, its end laps 3.0 mm over part 1"


def test_each_kind_of_step_has_its_caution_once_an_order():
    words = {LAY: "knife", COAT: "Sanding dust", SEAL: "lips or food", "prepare": "solvents"}
    _, work = made("hard")
    for order in work.orders:
        for kind, word in words.items():
            cautions = [step_caution(step) for step in order.steps if step.kind == kind]
            assert [word in caution for caution in cautions] == [True] + [False] * (len(cautions) - 1) if cautions else True
    sealing = step_caution(work.orders[0].steps[-1])
    assert "data sheet" in sealing and "moving air" in sealing and "gloves" in sealing and "licensed" in sealing


def test_many_cups_are_counted_in_place_of_boxes():
    _, work = made("hard")
    assert [(order.quantity, box_count(order)) for order in work.orders] == [(3, 3), (20, 0), (MOST_BOXES, MOST_BOXES)]


def test_sheets_are_counted_where_there_are_several():
    _, work = made("hard")
    row = work.orders[0].steps[1].rows[0]
    assert sheet_texts(row) == ["1 on sheet-roll-1", "2 on sheet-roll-2"]
