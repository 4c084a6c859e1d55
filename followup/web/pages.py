"""Page templates, rendered with the facts of one page."""

from __future__ import annotations

import re
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse


class Pages:
    """The templates under one folder; a fact that a template needs and does not get is an error, never a blank."""

    def __init__(self, folder: Path) -> None:
        self._templates = Environment(
            loader=FileSystemLoader(folder),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._templates.filters["tel"] = tel
        self._templates.filters["unbroken"] = unbroken

    def show(self, name: str, status: int = 200, **facts: object) -> HTMLResponse:
        """The page `name` as an answer."""
        return HTMLResponse(self._templates.get_template(name).render(**facts), status)


def unbroken(number: str) -> str:
    """A number that a line never breaks."""
    return number.replace(" ", "\u00a0")


def tel(number: str) -> str:
    """A link that rings a number as it is printed."""
    return "tel:" + re.sub(r"[^\d+*#]", "", number)
