"""Printed words back to numbers, for the checks of the packet."""

from __future__ import annotations

from collections.abc import Iterator

from fabplan.packet.model import Packet, Page, Table, flat
from fabplan.units import parse_length


class UnreadableError(Exception):
    """A printed number that cannot be read back."""


def read_length(text: str, unit: str) -> int:
    """Nanometres of a printed length without its unit: ``14 1⁄32``, ``356.5``."""
    typed = text.strip().replace("\u2044", "/").replace(" ", "-")
    try:
        return int(parse_length(f"{typed} {unit}", unit))
    except Exception as error:
        raise UnreadableError(f"{text!r} is no length") from error


def read_size(text: str, unit: str) -> tuple[int, int]:
    """Two lengths: ``14 1⁄32 × 96 in``."""
    first, _, second = text.removesuffix(unit).partition("×")
    return read_length(first, unit), read_length(second, unit)


def read_numbers(text: str) -> list[int]:
    """Whole numbers in ranges: ``1, 4–7``."""
    out: list[int] = []
    for part in text.split(","):
        first, _, last = part.strip().partition("–")
        out += range(int(first), int(last or first) + 1)
    return out


def read_count(text: str) -> int:
    """A whole number with its thousands apart."""
    return int(text.replace(",", ""))


def pages_of(packet: Packet, kind: str) -> list[Page]:
    """Pages of one kind."""
    return [page for page in packet.pages if page.kind == kind]


def table_of(page: Page, column: str) -> Table:
    """The table of a page whose first column has this title."""
    for block in flat(page.blocks):
        if isinstance(block, Table) and block.columns and block.columns[0].title == column:
            return block
    raise UnreadableError(f"{page.title}: no table of {column}")


def rows_of(table: Table) -> Iterator[dict[str, str]]:
    """Rows by column title, without the sum."""
    titles = [column.title for column in table.columns]
    for n, row in enumerate(table.rows):
        if not (table.total and n + 1 == len(table.rows)):
            yield dict(zip(titles, row, strict=True))
