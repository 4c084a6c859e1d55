from __future__ import annotations

import re
import sqlite3
import subprocess
from contextlib import closing

from tests.docs.settings_table import settings_table
from tests.structure.source_tree import ROOT

OPERATIONS = (ROOT / "docs/operations.md").read_text()


def test_the_table_of_settings_is_the_settings_class():
    assert settings_table() in OPERATIONS


def test_the_backup_command_copies_a_store_that_is_being_written(migrated_file, tmp_path):
    (command,) = re.findall(r"^python3 -c .*$", OPERATIONS, re.MULTILINE)
    (tmp_path / "followup.db").write_bytes(migrated_file.read_bytes())
    with closing(sqlite3.connect(tmp_path / "followup.db")) as writer:
        writer.execute("PRAGMA journal_mode=WAL")
        writer.execute("CREATE TABLE mark AS SELECT 20 AS minutes")
        writer.commit()
        subprocess.run(command, shell=True, cwd=tmp_path, check=True)
    with closing(sqlite3.connect(tmp_path / "copy.db")) as copy:
        assert copy.execute("SELECT minutes FROM mark").fetchall() == [(20,)]
