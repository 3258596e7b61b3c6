"""Markdown in, blocks, plain text or HTML out; only headings, paragraphs, lists and bold are taken, the rest
is words.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

from shipping.papers.page.blocks import Block, Heading, Paragraph, Span, Spans
from shipping.papers.wording.language import clean

if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markdown_it.token import Token


@lru_cache(maxsize=1)
def _reader() -> MarkdownIt:
    from markdown_it import MarkdownIt

    return MarkdownIt("commonmark", {"html": False}).disable(
        ["image", "html_block", "html_inline", "autolink"]
    )


@lru_cache(maxsize=4096)
def blocks_of(markdown: str) -> tuple[Block, ...]:
    """The blocks of a text, in order."""
    blocks: list[Block] = []
    lists: list[int | None] = []
    marker = ""
    in_heading = False
    for token in _reader().parse(markdown):
        match token.type:
            case "ordered_list_open":
                lists.append(int(token.attrs.get("start", 1)))
            case "bullet_list_open":
                lists.append(None)
            case "ordered_list_close" | "bullet_list_close":
                lists.pop()
            case "list_item_open":
                number = lists[-1]
                marker = "•" if number is None else f"{number}."
                if number is not None:
                    lists[-1] = number + 1
            case "heading_open":
                in_heading = True
            case "heading_close":
                in_heading = False
            case "inline":
                spans = _spans(token.children or [])
                if in_heading:
                    blocks.append(Heading("".join(span.text for span in spans)))
                else:
                    level = len(lists) - 1 if marker else len(lists)
                    blocks.append(Paragraph(spans, marker=marker, level=max(0, level)))
                marker = ""
            case "fence" | "code_block":
                blocks.append(Paragraph((Span(clean(token.content)),)))
            case _:
                pass
    return _with_last_items_together(blocks)


def _with_last_items_together(blocks: list[Block]) -> tuple[Block, ...]:
    """The blocks, the last item but one of each list kept with the last, so that none stands alone on a
    page.
    """
    kept = list(blocks)
    for number in range(len(blocks) - 1):
        one, last = blocks[number], blocks[number + 1]
        ends = number + 2 == len(blocks) or not _is_item(blocks[number + 2])
        if isinstance(one, Paragraph) and _is_item(one) and _is_item(last) and ends:
            kept[number] = replace(one, kept=True)
    return tuple(kept)


def _is_item(block: Block) -> bool:
    return isinstance(block, Paragraph) and bool(block.marker)


def _spans(tokens: list[Token]) -> Spans:
    """Inline tokens as spans; neighbours of one weight made one."""
    spans: list[Span] = []
    bold = 0
    for token in tokens:
        bold += {"strong_open": 1, "strong_close": -1}.get(token.type, 0)
        text = " " if token.type in ("softbreak", "hardbreak") else token.content
        if not text:
            continue
        if spans and spans[-1].bold == bool(bold):
            spans[-1] = Span(spans[-1].text + text, bool(bold))
        else:
            spans.append(Span(text, bool(bold)))
    return tuple(Span(" ".join(span.text.split("\n")), span.bold) for span in spans)


def plain_text(markdown: str) -> str:
    """The text as a plain letter: paragraphs apart, items with their markers, nothing else left of the
    Markdown.
    """
    lines: list[str] = []
    for block in blocks_of(markdown):
        if isinstance(block, Heading):
            lines += ["", block.text, ""]
        elif isinstance(block, Paragraph):
            text = "".join(span.text for span in block.spans)
            lines += [f"{block.marker} {text}"] if block.marker else ["", text, ""]
    kept: list[str] = []
    for line in lines:
        if line or (kept and kept[-1]):
            kept.append(line)
    return "\n".join(kept).strip() + "\n"


def html(markdown: str) -> str:
    """The text as a fragment of HTML, every value escaped."""
    return str(_reader().render(markdown))
