"""Reading a package as text: its modules, what they import, how long their functions are."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "followup"


@dataclass(frozen=True, slots=True)
class Module:
    """One source file: its dotted name, its text and its syntax tree."""

    name: str
    is_package: bool
    lines: int
    tree: ast.Module

    @property
    def parts(self) -> tuple[str, ...]:
        return tuple(self.name.split("."))


@dataclass(frozen=True, slots=True)
class Import:
    """One imported name: the module that asks, the dotted name it asks for, and the line."""

    by: str
    of: str
    line: int


def modules(package: Path) -> dict[str, Module]:
    """Every module of a package folder, by dotted name."""
    found = (_read(package, path) for path in sorted(package.rglob("*.py")))
    return {module.name: module for module in found}


def _read(package: Path, path: Path) -> Module:
    parts = [package.name, *path.relative_to(package).with_suffix("").parts]
    is_package = parts[-1] == "__init__"
    text = path.read_text()
    name = ".".join(parts[:-1] if is_package else parts)
    return Module(name, is_package, len(text.splitlines()), ast.parse(text, str(path)))


def imports(module: Module) -> Iterator[Import]:
    """Every import of a module, those inside functions and by name at run time included."""
    for node in ast.walk(module.tree):
        for of in _asked_for(module, node):
            yield Import(module.name, of, node.lineno)


def _asked_for(module: Module, node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
    elif isinstance(node, ast.ImportFrom):
        base = ".".join(filter(None, [_anchor(module, node.level), node.module]))
        yield from (f"{base}.{alias.name}" for alias in node.names)
    elif isinstance(node, ast.Call) and _called(node) in {"import_module", "__import__"}:
        first = node.args[0] if node.args else None
        yield first.value if isinstance(first, ast.Constant) and isinstance(first.value, str) else "(computed)"


def _anchor(module: Module, level: int) -> str:
    """The package that a relative import of so many dots starts from; empty for an absolute one."""
    if level == 0:
        return ""
    package = module.parts if module.is_package else module.parts[:-1]
    return ".".join(package[: len(package) - level + 1])


def _called(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def functions(module: Module) -> Iterator[tuple[str, int]]:
    """Each function of a module with its length in lines, from `def` to its last line."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield f"{module.name}.{node.name}", (node.end_lineno or node.lineno) - node.lineno + 1


def functions_with_imports(module: Module) -> Iterator[str]:
    """Each function that imports something when it is called."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and any(
            isinstance(inner, ast.Import | ast.ImportFrom) for inner in ast.walk(node)
        ):
            yield f"{module.name}.{node.name}"
