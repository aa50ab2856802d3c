"""The typesetter: one template, the packet's data, the font's folder in; a PDF out."""

from __future__ import annotations

import json
from importlib.resources import as_file, files

BLANK = {
    "sheets": [],
    "title": "blank",
    "title_size": 18,
    "paper": "us-letter",
    "banner": [],
    "after": 0,
    "number": [],
    "foot": [],
}


def warm(folder: str) -> None:
    """Load the typesetter, the template and the font (in `folder`), while the pages are still being decided."""
    press(json.dumps(BLANK), folder)


def press(data: str, folder: str) -> tuple[bytes, tuple[str, ...]]:
    """Set the packet's data (JSON) as a tagged PDF (PDF/UA-1).

    Parameters
    ----------
    data : str
        What packet.typ reads.
    folder : str
        Where the font lies; no other font is looked for.

    Returns
    -------
    pdf : bytes
    warnings : tuple of str
    """
    import typst

    with as_file(files("fabplan.packet.setting") / "packet.typ") as template:
        compiler = typst.Compiler(
            input=str(template),
            root=str(template.parent),
            font_paths=[folder],
            ignore_system_fonts=True,
            sys_inputs={"packet": data},
        )
        try:
            pdf, warnings = compiler.compile_with_warnings(format="pdf", pdf_standards=["ua-1"], timestamp=0)
        except typst.TypstError as error:
            told = getattr(error, "diagnostic", "") or str(error)
            raise RuntimeError(f"setting the packet failed: {told}") from error
    if not isinstance(pdf, bytes):
        raise RuntimeError("setting the packet gave no PDF")
    return pdf, tuple(str(w) for w in warnings)
