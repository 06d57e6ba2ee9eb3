"""What a report is made of: sections of blocks, plain data that the template sets and nothing else."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

NONE = "–"  # no value: not a number, or not stated


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    words: str
    kind: Literal["text"] = "text"


@dataclass(frozen=True)
class Bullets:
    """A list of points."""

    items: tuple[str, ...]
    kind: Literal["bullets"] = "bullets"


@dataclass(frozen=True)
class Code:
    """Commands or a programme, as they are typed."""

    words: str
    kind: Literal["code"] = "code"


@dataclass(frozen=True)
class Head:
    """A heading within a section; key: its anchor."""

    key: str
    words: str
    kind: Literal["head"] = "head"


@dataclass(frozen=True)
class Grid:
    """A table: the first column heads its rows; source: where its numbers come from; widths of its columns, %."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    source: str
    widths: tuple[int, ...] = ()
    kind: Literal["grid"] = "grid"

    def __post_init__(self) -> None:
        if any(len(row) != len(self.head) for row in self.rows):
            raise ValueError(f"a row of the table '{self.caption}' has another number of cells than its head")


@dataclass(frozen=True)
class Picture:
    """A figure: a PNG in base64, words for those who do not see it, a caption with its source; wide: on paper it gets a
    page of its own, turned."""

    name: str
    data: str
    alt: str
    caption: str
    wide: bool
    kind: Literal["picture"] = "picture"


Block = Text | Bullets | Code | Head | Grid | Picture


@dataclass(frozen=True)
class Section:
    """A section; key: its anchor."""

    key: str
    heading: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Report:
    """The whole document: title, what it is of, sections in order."""

    title: str
    facts: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]

    @property
    def headings(self) -> tuple[str, ...]:
        """Headings of the sections and within them, in order."""
        out: list[str] = []
        for section in self.sections:
            out += [section.heading, *(b.words for b in section.blocks if isinstance(b, Head))]
        return tuple(out)

    @property
    def figures(self) -> tuple[str, ...]:
        """Names of the figures shown, in order."""
        return tuple(b.name for s in self.sections for b in s.blocks if isinstance(b, Picture))


def grid(
    caption: str, head: Sequence[str], rows: Sequence[Sequence[str]], source: str, widths: tuple[int, ...] = ()
) -> Grid:
    """A table from any sequences."""
    return Grid(caption, tuple(head), tuple(tuple(row) for row in rows), source, widths)
