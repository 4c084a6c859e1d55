"""What lies at the top of the repository, and what no file of it may mention."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.structure.source_tree import ROOT

TOP_LEVEL = {
    ".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "demo_data", "deploy", "docs", "followup",
    "pyproject.toml", "templates", "tests",
}  # fmt: skip
PICTURES = {".png", ".jpg", ".webp", ".ico", ".woff2", ".pdf"}


def joined(*parts: str) -> str:
    """A forbidden text in pieces, so that this file does not hold it."""
    return re.escape("".join(parts))


FORBIDDEN = re.compile(
    "|".join(
        [
            joined("/wo", "rk/") + "(main|shared|[.]library)",
            joined("/ro", "ot/"),
            joined("..", "/shared"),
            joined("py", "pi.org"),
            joined("files.python", "hosted"),
            joined("npm", "js."),
            joined("deb.deb", "ian.org"),
            joined("iss", "ue ") + "#?[0-9]",
        ]
    ),
    re.IGNORECASE,
)


def tracked(root: Path) -> list[Path]:
    """The files that the repository holds, relative to its top."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=root, capture_output=True, text=True, check=True)
    return [Path(name) for name in listed.stdout.split("\0") if name and (root / name).is_file()]


def strangers(paths: Iterable[Path]) -> list[str]:
    return sorted({path.parts[0] for path in paths} - TOP_LEVEL)


def forbidden_mentions(root: Path, paths: Iterable[Path]) -> list[str]:
    """File and line of every mention that says where or how the program was built instead of what it does."""
    return [
        f"{path}:{number}: {found.group()}"
        for path in paths
        if path.suffix not in PICTURES
        for number, line in enumerate((root / path).read_text(errors="replace").splitlines(), start=1)
        for found in FORBIDDEN.finditer(line)
    ]


def test_the_top_level_is_fixed():
    assert strangers(tracked(ROOT)) == []


def test_no_file_mentions_a_build_place_or_a_registry():
    assert forbidden_mentions(ROOT, tracked(ROOT)) == []


def test_no_line_of_the_pins_holds_an_address_or_a_hash():
    lines = (ROOT / "deploy/constraints.txt").read_text().splitlines()[1:]
    assert [line for line in lines if not re.fullmatch(r"[A-Za-z0-9_.-]+==[A-Za-z0-9_.]+", line)] == []


def test_a_stranger_at_the_top_is_found():
    assert strangers([Path("setup.py"), Path("docs/glossary.md"), Path("notes/a.md")]) == ["notes", "setup.py"]


@pytest.mark.parametrize(
    "parts",
    [("see /wo", "rk/shared/x.md"), ("from py", "pi.org"), ("closes Iss", "ue 12"), ("at ..", "/shared/look")],
)
def test_a_forbidden_mention_is_found(tmp_path, parts):
    (tmp_path / "a.md").write_text("a clean line\n" + "".join(parts) + "\n")
    assert len(forbidden_mentions(tmp_path, [Path("a.md")])) == 1
