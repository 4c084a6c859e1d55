"""How long things may be, what they may not be called, and where the clock is read."""

from __future__ import annotations

import ast
from pathlib import Path
from statistics import median, quantiles

import pytest

from tests.structure.source_tree import PACKAGE, ROOT, Module, functions, imports, modules

MOST_FUNCTION_LINES = 50
MOST_FILE_LINES = 400
VAGUE = {
    "util",
    "utils",
    "helper",
    "helpers",
    "common",
    "manager",
    "managers",
    "handler",
    "handlers",
    "model",
    "models",
}
CLOCK_READS = {
    "datetime": {"now", "utcnow", "today"},
    "date": {"today"},
    "time": {"time", "time_ns", "localtime", "gmtime", "monotonic", "perf_counter"},
    "func": {"now", "current_timestamp", "current_date", "localtimestamp"},
}
MAY_READ_THE_CLOCK = {"followup.clock"}


def long_functions(package: Path) -> list[str]:
    lengths = [each for module in modules(package).values() for each in functions(module)]
    return [f"{name}: {lines} lines" for name, lines in lengths if lines > MOST_FUNCTION_LINES]


def long_files(package: Path) -> list[str]:
    found = modules(package).values()
    return [f"{module.name}: {module.lines} lines" for module in found if module.lines > MOST_FILE_LINES]


def vague_names(package: Path) -> list[str]:
    return [name for name, module in modules(package).items() if VAGUE & set(module.parts[-1].split("_"))]


def lengths(package: Path) -> list[int]:
    return [lines for module in modules(package).values() for _, lines in functions(module)]


def clock_reads(package: Path) -> list[str]:
    """Every place outside the clock module that asks what time it is."""
    found = (module for name, module in modules(package).items() if name not in MAY_READ_THE_CLOCK)
    return [each for module in found for each in [*_calls(module), *_imported_reads(module)]]


def _calls(module: Module) -> list[str]:
    nodes = (node for node in ast.walk(module.tree) if isinstance(node, ast.Attribute))
    return [f"{module.name}:{node.lineno}" for node in nodes if node.attr in CLOCK_READS.get(_base(node), ())]


def _imported_reads(module: Module) -> list[str]:
    forbidden = {f"time.{name}" for name in CLOCK_READS["time"]}
    return [f"{module.name}:{each.line}" for each in imports(module) if each.of in forbidden]


def _base(node: ast.Attribute) -> str:
    value = node.value
    return value.attr if isinstance(value, ast.Attribute) else getattr(value, "id", "")


@pytest.mark.parametrize("folder", [PACKAGE, ROOT / "tests"])
def test_no_function_is_long(folder):
    assert long_functions(folder) == []


@pytest.mark.parametrize("folder", [PACKAGE, ROOT / "tests"])
def test_no_file_is_long(folder):
    assert long_files(folder) == []


def test_most_functions_are_short():
    found = lengths(PACKAGE)
    assert median(found) <= 8
    assert quantiles(found, n=10)[-1] <= 25


@pytest.mark.parametrize("folder", [PACKAGE, ROOT / "tests"])
def test_no_module_has_a_name_that_says_nothing(folder):
    assert vague_names(folder) == []


def test_only_the_clock_module_reads_the_clock():
    assert clock_reads(PACKAGE) == []


def test_a_function_of_51_lines_is_found(small_package):
    package = small_package({"core/a.py": "def f():\n" + "    1\n" * 50, "core/b.py": "def f():\n" + "    1\n" * 49})
    assert long_functions(package) == ["followup.core.a.f: 51 lines"]


def test_a_file_of_401_lines_is_found(small_package):
    package = small_package({"core/a.py": "x = 1\n" * 401, "core/b.py": "x = 1\n" * 400})
    assert long_files(package) == ["followup.core.a: 401 lines"]


def test_a_vague_name_is_found(small_package):
    package = small_package({"core/utils.py": "", "web/form_helpers.py": "", "core/mark.py": ""})
    assert vague_names(package) == ["followup.core.utils", "followup.web.form_helpers"]


@pytest.mark.parametrize(
    "text",
    [
        "from datetime import datetime\nx = datetime.now()\n",
        "import datetime\nx = datetime.datetime.utcnow()\n",
        "from datetime import date\nread = date.today\n",
        "import time\nx = time.time()\n",
        "from time import time\n",
        "from sqlalchemy import func\nx = func.now()\n",
    ],
)
def test_a_clock_read_elsewhere_is_found(small_package, text):
    assert len(clock_reads(small_package({"core/a.py": text, "clock.py": text}))) == 1
