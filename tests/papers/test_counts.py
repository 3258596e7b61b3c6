"""However a parcel is made up, every paper counts the same eggs as the plan."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from shipping.papers.documents.contents import PaperInputs, code_text, units_of
from shipping.papers.documents.customs_sheet import parcel_declaration
from shipping.papers.documents.labels import tag_lines
from shipping.papers.documents.notices import notices
from shipping.papers.documents.pick_list import pick_list, week_sheet
from shipping.papers.documents.slip import slip
from shipping.papers.wording.language import SPOKEN, number
from shipping.papers.wording.phrases import Wording
from shipping.week.plan_data import Parcel, PlannedLine
from shipping.words.sentence import LANGUAGES
from tests.papers import sample
from tests.papers.reading import rows_of, tables_in

WORDINGS = {language: Wording(None, language) for language in dict.fromkeys((*LANGUAGES, *SPOKEN.values()))}
DRAWS = {parcel.lines[0].draws[0].lot: parcel.lines[0].draws[0] for parcel in sample.PARCELS}


@st.composite
def planned_lines(draw: st.DrawFn) -> tuple[PlannedLine, ...]:
    """One to five lines, each from one to three lots, each lot in one to twelve tubes or bags."""
    lines = []
    for number_ in range(1, draw(st.integers(1, 5)) + 1):
        lots = draw(st.lists(st.sampled_from(sorted(DRAWS)), min_size=1, max_size=3))
        draws = []
        for lot in lots:
            units = draw(st.integers(1, 12))
            draws.append(
                replace(
                    DRAWS[lot],
                    units=units,
                    pack=units * draw(st.integers(1, 60)) + draw(st.integers(0, units - 1)),
                )
            )
        pack = sum(one.pack for one in draws)
        ordered = draw(st.integers(1, pack))
        line = replace(
            sample.PARCELS[0].lines[0],
            order="1001",
            line=number_,
            draws=tuple(draws),
            pack=pack,
            ordered=ordered,
        )
        lines.append(line)
    return tuple(lines)


def figures(cell: str) -> int:
    """The count in a cell of a table, whatever marks its thousands and says that it is about so many."""
    return int(re.sub(r"\D", "", cell))


def counts(rows: list[list[str]], column: int, is_sum: Callable[[list[str]], bool]) -> tuple[int, int]:
    """The sum of a column over plain rows, and over the rows of sums."""
    plain = sum(figures(row[column]) for row in rows if not is_sum(row))
    return plain, sum(figures(row[column]) for row in rows if is_sum(row))


@settings(max_examples=40)
@given(planned_lines(), st.sampled_from(LANGUAGES))
def test_plan_pick_list_slip_tags_customs_notice_and_code_count_the_same_eggs(
    lines: tuple[PlannedLine, ...], language: str
) -> None:
    parcel: Parcel = replace(sample.PARCELS[0], lines=lines, language=language)
    inputs = PaperInputs(replace(sample.PLAN, parcels=(parcel,)), sample.SHELF, WORDINGS, {})
    eggs = sum(one.pack for line in lines for one in line.draws)
    assert parcel.pack == eggs
    assert sum(unit.eggs for unit in units_of(parcel, sample.SHELF)) == eggs

    inside = rows_of(tables_in(slip(parcel, inputs))[0])
    assert counts(inside, 4, lambda row: not row[0]) == (eggs, eggs)

    by_lot, by_parcel = map(rows_of, tables_in(pick_list(parcel.dispatch_on, [parcel], inputs)))
    assert sum(figures(row[5]) for row in by_lot) == eggs
    assert counts(by_parcel, 4, lambda row: not row[2]) == (eggs, eggs)
    assert str(number(eggs, "en")) in week_sheet([parcel], inputs).below

    assert sum(goods.eggs for goods in parcel_declaration(parcel, inputs).goods) == eggs
    assert sum(int(count) for count in re.findall(r"=(\d+)", code_text(parcel))) == eggs

    wording = WORDINGS[language]
    units = units_of(parcel, sample.SHELF)
    assert sum(figures(tag_lines(parcel, unit, wording)[0]) for unit in units) == eggs

    letter = notices(inputs, (parcel,), with_lines_out=False)[0].text
    items = [line.partition("Fundulopanchax")[0] for line in letter.splitlines() if line.startswith("•")]
    assert sum(int(re.sub(r"\D", "", item)) for item in items) == eggs


def test_under_a_line_of_the_slip_stands_what_was_ordered_what_was_packed_and_what_is_extra() -> None:
    parcel = replace(sample.PARCELS[0], language="en")
    (line,) = parcel.lines
    assert (line.ordered, line.pack, line.extra) == (40, 47, 7)
    inside = rows_of(tables_in(slip(parcel, PaperInputs(sample.PLAN, sample.SHELF, WORDINGS, {})))[0])
    assert [row[1] for row in inside if not row[0]] == ["Order 1001/1 Ordered 40, packed 47: 7 extra"]


def test_a_count_that_was_estimated_in_part_is_about_so_many_on_slip_and_customs_form() -> None:
    draws = (DRAWS["GAR-11a"], DRAWS["GUE-3b"])
    line = replace(sample.PARCELS[0].lines[0], draws=draws, pack=sum(draw.pack for draw in draws))
    parcel = replace(sample.PARCELS[0], lines=(line,), language="en")
    inputs = PaperInputs(replace(sample.PLAN, parcels=(parcel,)), sample.SHELF, WORDINGS, {})
    inside = rows_of(tables_in(slip(parcel, inputs))[0])
    assert [row[4] for row in inside if not row[0]] == [f"about {line.pack}"]
    assert [goods.about for goods in parcel_declaration(parcel, inputs).goods] == [True]
