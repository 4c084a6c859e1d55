"""What people install is the wheel, not the checkout: it is built, installed alone and used from an empty folder."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.structure.source_tree import ROOT
from tests.structure.test_top_level import tracked

pytestmark = pytest.mark.slow

PAYLOAD = {
    "day": 3,
    "total": "2 h",
    "total_minutes": 120,
    "tomorrow_total": "3 h",
    "periods": [{"on": "9:00", "off": "10:00"}, {"on": "15:00", "off": "16:00"}],
    "checks": ["10:20", "16:20"],
    "reason": "",
    "limit": 20,
    "link": "https://c.example/c/Ab12Cd34Ef56Gh78",
    "phone": "555 0100",
    "emergency": "112",
    "practice": "Harbour Lane Practice",
    "by": "16:00",
    "cannot_stand": False,
    "leave_on": False,
}
RENDER = """
import json, sys
from followup.words.render import render
print(render("times", "en", json.load(sys.stdin)).text)
"""
IMPORT_EVERYTHING = """
import importlib, pkgutil, followup
for found in pkgutil.walk_packages(followup.__path__, "followup."):
    if ".migrations" not in found.name:
        importlib.import_module(found.name)
"""


def call(*command: str | Path, folder: Path, given: str = "") -> str:
    environment = {"PATH": os.environ["PATH"], "HOME": str(folder), **_installer_settings()}
    done = subprocess.run(
        command, cwd=folder, input=given, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def _installer_settings() -> dict[str, str]:
    return {name: value for name, value in os.environ.items() if name.startswith("PIP_")}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    call(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder, folder=ROOT)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of programs of a clean environment that holds the wheel and what it asks for, nothing else."""
    folder = tmp_path_factory.mktemp("clean")
    call(sys.executable, "-m", "venv", folder / "env", folder=folder)
    programs = folder / "env" / "bin"
    call(programs / "pip", "install", "-q", "-c", ROOT / "deploy/constraints.txt", wheel, folder=folder)
    return programs


def test_every_template_and_data_file_is_in_the_wheel(wheel):
    wanted = {_place(path) for path in tracked(ROOT) if path.parts[0] in {"followup", "templates"}}
    assert wanted <= set(zipfile.ZipFile(wheel).namelist())


def _place(path: Path) -> str:
    return str(path) if path.parts[0] == "followup" else f"followup/{path}"


def test_a_message_is_rendered_from_the_installed_wheel(installed, tmp_path):
    text = call(installed / "python", "-c", RENDER, folder=tmp_path, given=json.dumps(PAYLOAD))
    assert "9:00" in text
    assert "555 0100" in text


def test_the_protocols_are_listed_by_the_installed_command(installed, tmp_path):
    listed = json.loads(call(installed / "followup", "protocols", "list", "--format", "json", folder=tmp_path))
    assert {"s01", "s04", "s13"} <= {each["id"] for each in listed}


def test_every_module_imports_with_what_the_wheel_asks_for(installed, tmp_path):
    call(installed / "python", "-c", IMPORT_EVERYTHING, folder=tmp_path)
