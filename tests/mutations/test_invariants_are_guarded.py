"""What must always hold is guarded: small wrong changes of the program, each of which a named test must notice.

A row of ``mutations.toml`` names the invariant (its number in DEVELOPERS.md), the file, the text that is replaced
(found once), what it becomes, and the test that must fail then.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.structure.source_tree import ROOT

pytestmark = pytest.mark.slow

MUTATIONS = tomllib.loads((Path(__file__).parent / "mutations.toml").read_text())["mutation"]
COPIED = ["followup", "templates", "tests", "pyproject.toml"]
TESTS_FAILED = 1


def mutated(copy: Path, mutation: dict[str, str]) -> None:
    path = copy / mutation["file"]
    text = path.read_text()
    assert text.count(mutation["find"]) == 1, f"{mutation['file']} must hold this once: {mutation['find']}"
    path.write_text(text.replace(mutation["find"], mutation["becomes"]))


def outcome(copy: Path, test: str) -> int:
    """The exit code of one test on the copy: 0 passed, 1 failed, others did not run."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("COVERAGE_")}
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", test]
    done = subprocess.run(command, cwd=copy, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode in {0, TESTS_FAILED}, done.stdout + done.stderr
    return done.returncode


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, tmp_path / name)
    return tmp_path


@pytest.mark.parametrize(
    "mutation", MUTATIONS, ids=lambda each: f"{each['invariant']}-{each['what']}".replace(" ", "-")
)
def test_a_wrong_change_is_noticed(copy, mutation):
    mutated(copy, mutation)
    assert outcome(copy, mutation["killed_by"]) == TESTS_FAILED


def test_every_invariant_has_a_mutation():
    developers = (ROOT / "DEVELOPERS.md").read_text()
    numbered = re.findall(r"^(\d+)\. ", developers.split("## Where things are")[0], re.MULTILINE)
    assert {each["invariant"] for each in MUTATIONS} == set(numbered)


def test_an_unchanged_copy_passes(copy):
    assert outcome(copy, MUTATIONS[0]["killed_by"]) == 0
