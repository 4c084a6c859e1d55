"""Imports go down only. The table is the whole truth: what it does not list is not allowed."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.structure.source_tree import PACKAGE, Import, Module, functions_with_imports, imports, modules

EVERYONE = {"errors", "__version__"}
MAY_IMPORT = {
    "errors": set(),
    "clock": set(),
    "settings": set(),
    "core": {"core"},
    "clinical": {"clinical", "core"},
    "storage": {"storage", "core"},
    "services": {"services", "storage", "clinical", "core"},
    "channels": {"channels", "core"},
    "words": {"words", "clinical", "core"},
    "app": {"services", "channels", "words", "storage", "clinical", "core", "settings", "clock"},
    "scheduler": {"scheduler", "app", "services", "core", "settings", "clock"},
    "web": {"web", "app", "services", "words", "clinical", "core", "settings", "clock"},
    "demo": {
        "demo", "scheduler", "web", "app", "services", "channels", "words", "storage", "clinical", "core", "settings",
        "clock",
    },
    "cli": {
        "cli", "demo", "scheduler", "web", "app", "services", "channels", "words", "storage", "clinical", "core",
        "settings", "clock",
    },
}  # fmt: skip
CORE_LIBRARIES = {"pydantic", "pydantic_core", "annotated_types", "email_validator"}  # the last for syntax only
NOT_PURE = {
    "asyncio", "concurrent", "email", "ftplib", "glob", "http", "imaplib", "importlib", "io", "logging", "mailbox",
    "multiprocessing", "os", "pathlib", "random", "secrets", "selectors", "shutil", "smtplib", "socket", "sqlite3",
    "ssl", "subprocess", "sys", "tempfile", "threading", "time", "urllib",
}  # fmt: skip


def upward_imports(package: Path) -> list[str]:
    """Every import inside the package that the table does not allow."""
    found = modules(package).values()
    return [_fault(each) for module in found for each in imports(module) if not _allowed(each, package.name)]


def _allowed(asked: Import, package: str) -> bool:
    if asked.of == "(computed)":
        return False
    base, _, rest = asked.of.partition(".")
    if base != package:
        return True
    layer, wanted = _layer(asked.by), rest.partition(".")[0]
    return layer == package or not wanted or wanted in EVERYONE or wanted in MAY_IMPORT.get(layer, set())


def _layer(module: str) -> str:
    return module.split(".")[1] if "." in module else module


def _fault(asked: Import) -> str:
    return f"{asked.by}:{asked.line} imports {asked.of}"


def impure_imports(package: Path) -> list[str]:
    """Every import in the core of anything but the core, errors, pydantic and the pure part of the standard library."""
    core = (module for module in modules(package).values() if _layer(module.name) == "core")
    return [_fault(each) for module in core for each in imports(module) if not _pure(each.of, package.name)]


def _pure(name: str, package: str) -> bool:
    base = name.partition(".")[0]
    if base in {package, "__future__"} | CORE_LIBRARIES:
        return True
    return base in sys.stdlib_module_names and base not in NOT_PURE


def cycles(package: Path) -> list[str]:
    """Every module that can be reached from itself by imports, wherever in the file they stand."""
    known = modules(package)
    graph = {name: set(_neighbours(known, name)) for name in known}
    return [name for name in graph if name in _reachable(graph, name)]


def _neighbours(known: dict[str, Module], name: str) -> Iterator[str]:
    for asked in imports(known[name]):
        target = asked.of if asked.of in known else asked.of.rpartition(".")[0]
        if target in known and "." in target:
            yield target


def _reachable(graph: dict[str, set[str]], start: str) -> set[str]:
    seen: set[str] = set()
    waiting = [start]
    while waiting:
        new = graph[waiting.pop()] - seen
        seen |= new
        waiting += new
    return seen


def test_every_part_of_the_package_has_its_place_in_the_table():
    parts = {path.stem for path in PACKAGE.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()}
    assert parts - {"__init__"} <= MAY_IMPORT.keys()


def test_imports_go_down_only():
    assert upward_imports(PACKAGE) == []


def test_the_core_is_pure():
    assert impure_imports(PACKAGE) == []


def test_no_module_imports_itself_by_a_detour():
    assert cycles(PACKAGE) == []


def test_nothing_is_imported_inside_a_function():
    assert [name for module in modules(PACKAGE).values() for name in functions_with_imports(module)] == []


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("core/mark.py", "from followup.storage import tables\n"),
        ("core/mark.py", "from ..storage.tables import MARKS\n"),
        ("storage/marks.py", "import followup.clinical.load_rules\n"),
        ("services/report.py", "def f():\n    from followup.words import render\n"),
        ("services/report.py", "from followup import channels\n"),
        ("services/report.py", "from followup.clock import system_clock\n"),
        ("web/pages.py", "from followup.storage import tables\n"),
        ("core/mark.py", "import importlib\nimportlib.import_module('followup.web')\n"),
        ("errors.py", "import followup.core.mark\n"),
    ],
)
def test_an_upward_import_is_found_wherever_it_stands(small_package, path, text):
    assert len(upward_imports(small_package({path: text}))) == 1


@pytest.mark.parametrize("line", ["import logging", "from pathlib import Path", "import sqlalchemy", "import time"])
def test_an_impure_import_in_the_core_is_found(small_package, line):
    assert len(impure_imports(small_package({"core/mark.py": line + "\n"}))) == 1


def test_a_cycle_through_three_modules_is_found_even_inside_functions(small_package):
    package = small_package(
        {
            "core/a.py": "from followup.core.b import B\n",
            "core/b.py": "def f():\n    from followup.core import c\n",
            "core/c.py": "import followup.core.a\n",
            "core/d.py": "import followup.core.a\n",
        }
    )
    assert cycles(package) == ["followup.core.a", "followup.core.b", "followup.core.c"]


def test_an_import_inside_a_function_is_found(small_package):
    package = small_package({"core/a.py": "def f():\n    import json\n"})
    assert [*functions_with_imports(modules(package)["followup.core.a"])] == ["followup.core.a.f"]
