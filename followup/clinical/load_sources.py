"""Published documents by key: those of the wear protocols and those of the rules."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from followup.errors import InvalidInput

CLINICAL: Traversable = files("followup") / "clinical"
_FILES = ("sources.toml", "sources_findings.toml")
_NEEDED = ("publisher", "title", "year", "grade")
GRADES = frozenset({"A", "B", "C", "T"})


def read_toml(name: str) -> dict[str, Any]:
    """One file of the clinical folder."""
    return tomllib.loads((CLINICAL / name).read_text("utf-8"))


@cache
def load_sources() -> Mapping[str, Mapping[str, str]]:
    """Each source by key, with publisher, title, year or "undated", grade, and where given its section."""
    found: dict[str, Mapping[str, str]] = {}
    for name in _FILES:
        for key, raw in read_toml(name).items():
            found[key] = _checked(key, raw, name, key in found)
    return found


def _checked(key: str, raw: dict[str, Any], name: str, twice: bool) -> Mapping[str, str]:
    if twice:
        raise InvalidInput("duplicate_source", f"Two sources are called {key}.", f"{name}:{key}")
    missing = [each for each in _NEEDED if not raw.get(each)]
    if missing or raw["grade"] not in GRADES:
        raise InvalidInput("bad_source", f"Give {', '.join(_NEEDED)}; the grade is A, B, C or T.", f"{name}:{key}")
    return {name: str(value) for name, value in raw.items()}


def cite(key: str, sources: Mapping[str, Mapping[str, str]]) -> str:
    """A source as a person would cite it; a key that names no document is said as it stands."""
    if key not in sources:
        return key
    source = sources[key]
    section = f", {source['section']}" if "section" in source else ""
    note = f" ({source['note']})" if "note" in source else ""
    return f"{source['publisher']}, {source['title']}, {source['year']}{section} [{source['grade']}]{note}"
