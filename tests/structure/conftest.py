from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest


@pytest.fixture
def small_package(tmp_path: Path) -> Callable[..., Path]:
    """Write a small package called followup from `{"core/mark.py": text}`; its folder. It shows that a check bites."""

    def write(files: dict[str, str]) -> Path:
        package = tmp_path / "followup"
        for name, text in files.items():
            path = package / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
        return package

    return write
