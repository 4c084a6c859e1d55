"""Sets a printed sheet: plain values and a template in, a tagged PDF out.

The values go in as JSON and are set as text, so nothing in them can be read as markup. Only the fonts that travel
with the typesetter are used and nothing is fetched. A page without its title, or a figure without its words, fails
(PDF/UA-1).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from enum import StrEnum
from functools import cache
from typing import Any

import typst

from followup.words.render import template_root


class Paper(StrEnum):
    """Sheet sizes."""

    A4 = "a4"
    LETTER = "letter"


def typeset(template: str, view: Mapping[str, Any], printed_at: datetime, paper: Paper = Paper.A4) -> bytes:
    """The PDF of `template` under ``templates/documents``; the same values give the same bytes.

    `printed_at` (aware) is the time stated in the file.
    """
    folder = template_root() / "documents"
    size = "us-letter" if paper is Paper.LETTER else paper.value
    made = typst.compile(
        folder / template,
        root=folder,
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"view": json.dumps({**view, "size": size}, ensure_ascii=False)},
        pdf_standards=["ua-1"],
        timestamp=int(printed_at.timestamp()),
    )
    assert isinstance(made, bytes)
    return made


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False)
