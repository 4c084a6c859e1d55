from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.web.a_practice import PracticeAtWork, open_practice


@pytest.fixture
def rooms(migrated_file: Path, tmp_path: Path) -> Iterator[PracticeAtWork]:
    """An invented practice on the day of its first delivery, nobody signed in."""
    database = Path(shutil.copy(migrated_file, tmp_path / "followup.db"))
    opened = open_practice(database)
    yield opened
    opened.app.close()
