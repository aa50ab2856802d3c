"""Drawings painted once for the PDF, the screen version and the files."""

from __future__ import annotations

from fabplan.packet.setting.fonts import check_text
from fabplan.plotter.board.paint import GlyphError, svg
from fabplan.plotter.model import Drawing


class Ink:
    """Paints each drawing the first time it is asked for."""

    def __init__(self) -> None:
        self._painted: dict[int, tuple[Drawing, str]] = {}

    def svg(self, drawing: Drawing) -> str:
        """The drawing as SVG.

        Raises
        ------
        JobError
            A text with a character the font has no shape for.
        """
        known = self._painted.get(id(drawing))
        if known is None:
            try:
                painted = svg(drawing)
            except GlyphError as error:
                check_text(error.text, key="drawing")
                raise
            known = self._painted[id(drawing)] = (drawing, painted)
        return known[1]
