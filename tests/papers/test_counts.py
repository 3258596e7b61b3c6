"""However a parcel is made up, every paper counts the same eggs as the plan."""

from __future__ import annotations

import re
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from shipping.papers.documents.contents import Desk, code_text, units_of
from shipping.papers.documents.customs_sheet import parcel_declaration
from shipping.papers.documents.label import HANDLING_LANGUAGES
from shipping.papers.documents.notices import notices
from shipping.papers.documents.pick_list import pick_list, week_sheet
from shipping.papers.documents.slip import slip
from shipping.papers.documents.tags import tag_makers
from shipping.papers.page import fonts as faces
from shipping.papers.page.blocks import Spans, Table
from shipping.papers.page.primitives import Text
from shipping.papers.wording.language import LANGUAGES, number
from shipping.papers.wording.phrases import Wording
from shipping.week.plan_data import Parcel, PlannedLine
from tests.papers import sample

WORDINGS = {
    language: Wording(None, language)
    for language in dict.fromkeys((*LANGUAGES, *HANDLING_LANGUAGES.values()))
}
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


def figures(cell: tuple[Spans, ...]) -> int:
    """The count in a cell of a table, whatever marks its thousands."""
    return int(re.sub(r"\D", "", "".join(span.text for spans in cell for span in spans)))


def counts(table: Table, column: int) -> tuple[int, int]:
    """The sum of a column over plain rows, and over the rows of sums."""
    plain = sum(figures(row[column]) for n, row in enumerate(table.rows) if n not in table.strong_rows)
    return plain, sum(figures(row[column]) for n, row in enumerate(table.rows) if n in table.strong_rows)


@settings(max_examples=40)
@given(planned_lines(), st.sampled_from(LANGUAGES))
def test_plan_pick_list_slip_tags_customs_notice_and_code_count_the_same_eggs(
    lines: tuple[PlannedLine, ...], language: str
) -> None:
    parcel: Parcel = replace(sample.PARCELS[0], lines=lines, language=language)
    desk = Desk(replace(sample.PLAN, parcels=(parcel,)), sample.SHELF, WORDINGS, {})
    eggs = sum(one.pack for line in lines for one in line.draws)
    assert parcel.pack == eggs
    assert sum(unit.eggs for unit in units_of(parcel, sample.SHELF)) == eggs

    inside = next(block for block in slip(parcel, desk).blocks if isinstance(block, Table))
    assert counts(inside, 4) == (eggs, eggs)

    picked = [
        block for block in pick_list(parcel.dispatch_on, [parcel], desk).blocks if isinstance(block, Table)
    ]
    assert sum(figures(row[5]) for row in picked[0].rows) == eggs
    assert counts(picked[1], 4) == (eggs, eggs)
    assert any(str(number(eggs, "en")) in text for text in [week_sheet([parcel], desk).below])

    assert sum(line.quantity for line in parcel_declaration(parcel, desk).lines) == eggs
    assert sum(int(count) for count in re.findall(r"=(\d+)", code_text(parcel))) == eggs

    on_tags = 0
    for maker in tag_makers(parcel, desk, faces.measure):
        first = next(mark for mark in maker(240, 130).marks if isinstance(mark, Text))
        on_tags += int(re.sub(r"\D", "", first.text))
    assert on_tags == eggs

    letter = notices(desk, (parcel,), with_lines_out=False)[0].text
    items = [line.partition("Fundulopanchax")[0] for line in letter.splitlines() if line.startswith("•")]
    assert sum(int(re.sub(r"\D", "", item)) for item in items) == eggs
