"""Markdown in, blocks, plain text or HTML out: headings, paragraphs, lists and bold; the rest is words."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from shipping.papers.wording.language import clean

if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markdown_it.token import Token


class Span(NamedTuple):
    """A run of text in one weight."""

    text: str
    bold: bool = False


Spans = tuple[Span, ...]


def plain(text: str) -> Spans:
    return (Span(text),)


def strong(text: str) -> Spans:
    return (Span(text, True),)


class Heading(NamedTuple):
    """A heading over what follows."""

    text: str


class Item(NamedTuple):
    """A paragraph; with a ``marker`` an item of a list, ``level`` deep."""

    spans: Spans
    marker: str = ""
    level: int = 0


@lru_cache(maxsize=1)
def _reader() -> MarkdownIt:
    from markdown_it import MarkdownIt

    return MarkdownIt("commonmark", {"html": False}).disable(
        ["image", "html_block", "html_inline", "autolink"]
    )


@lru_cache(maxsize=4096)
def blocks_of(markdown: str) -> tuple[Heading | Item, ...]:
    """The blocks of a text, in order."""
    blocks: list[Heading | Item] = []
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
                    blocks.append(Item(spans, marker, max(0, level)))
                marker = ""
            case "fence" | "code_block":
                blocks.append(Item((Span(clean(token.content)),)))
            case _:
                pass
    return tuple(blocks)


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
    """The text as a plain letter: paragraphs apart, items with their markers, no other Markdown."""
    lines: list[str] = []
    for block in blocks_of(markdown):
        if isinstance(block, Heading):
            lines += ["", block.text, ""]
        else:
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
