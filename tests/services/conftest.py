from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from followup.storage.engine import open_store
from tests.builders import Clinic, clinic_on


@pytest.fixture
def clinic(migrated_file: Path, tmp_path: Path) -> Iterator[Clinic]:
    """Quillmere on a new SQLite file, at ten on Monday 2 March 2026."""
    store = open_store(f"sqlite:///{shutil.copy(migrated_file, tmp_path / 'followup.db')}")
    yield clinic_on(store)
    store.close()
