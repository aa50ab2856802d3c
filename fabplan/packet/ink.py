"""Drawings painted once for the PDF, the screen version and the files."""

from __future__ import annotations

from fabplan.plotter.model import Drawing
from fabplan.plotter.paint import svg


class Ink:
    """Paints each drawing the first time it is asked for."""

    def __init__(self) -> None:
        self._painted: dict[int, tuple[Drawing, str]] = {}

    def svg(self, drawing: Drawing) -> str:
        """The drawing as SVG."""
        known = self._painted.get(id(drawing))
        if known is None:
            known = self._painted[id(drawing)] = (drawing, svg(drawing))
        return known[1]
