"""The wheel is whole: built and installed with pip alone into an empty environment, it runs.

It carries what the browser gets, libraries included, and the demo household; it leaves at home what
only a checkout needs.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

from counterfoil.shipped import demo_folder, web_folder
from tests.served import ROOT


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel as pip builds it, from this checkout, with the build tools that are installed here."""
    folder = tmp_path_factory.mktemp("wheel")
    _pip("wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(folder), str(ROOT))
    return next(folder.glob("counterfoil-*.whl"))


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The environment's ``bin`` after pip has installed the wheel into nothing.

    The libraries that the wheel asks for come from the environment of the tests, by a path at the end
    of ``sys.path``: they are the same, and nothing need be fetched."""
    folder = tmp_path_factory.mktemp("empty")
    venv.create(folder, with_pip=False)
    python = folder / "bin" / "python"
    _pip("--python", str(python), "install", "--no-deps", "--no-index", str(wheel))
    site = next(folder.glob("lib/python*/site-packages"))
    (site / "libraries.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return folder / "bin"


def test_the_wheel_carries_what_the_browser_gets(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    for name in (
        "counterfoil/web/vendor/importmap.json",
        "counterfoil/web/vendor/lit/index.js",
        "counterfoil/web/vendor/idb/index.js",
        "counterfoil/web/vendor/highs/highs.mjs",
        "counterfoil/web/vendor/highs/highs.wasm",
        "counterfoil/web/vendor/highs/LICENSE",
        "counterfoil/cli/__init__.py",
    ):
        assert name in names
    missing = {
        f"counterfoil/web/{path.relative_to(web_folder()).as_posix()}"
        for path in web_folder().rglob("*")
        if path.is_file() and not path.name.endswith(".d.mts")
    } - names
    assert not missing
    assert {f"counterfoil/demo/{path.name}" for path in demo_folder().glob("*.json")} <= names


def test_the_wheel_leaves_at_home_what_only_a_checkout_needs(wheel: Path) -> None:
    for name in zipfile.ZipFile(wheel).namelist():
        assert name.split("/")[0] == "counterfoil" or ".dist-info/" in name
        assert not name.endswith((".sh", ".png", ".pyc", ".d.mts")) or "/icons/" in name
        assert "node_modules" not in name


def test_an_installed_command_describes_a_trip(installed: Path, tmp_path: Path) -> None:
    said = _run(installed / "counterfoil", "schema", "trip", cwd=tmp_path)
    assert json.loads(said)["$ref"] == "#/$defs/Trip"


def test_an_installed_package_finds_its_folders(installed: Path, tmp_path: Path) -> None:
    program = (
        "import counterfoil.shipped as s; print(s.web_folder()); print(s.demo_folder()); print(s.release())"
    )
    web, demo, release = _run(installed / "python", "-c", program, cwd=tmp_path).splitlines()
    assert (Path(web) / "vendor" / "importmap.json").is_file()
    assert Path(web).parent == Path(demo).parent
    assert str(installed.parent) in web
    assert release[0].isdigit()


def test_the_lock_file_names_no_registry() -> None:
    lock = json.loads((ROOT / ".tools" / "package-lock.json").read_text())
    packages: dict[str, dict[str, object]] = lock["packages"]
    assert [name for name, package in packages.items() if "resolved" in package] == []
    unchecked = [name for name, package in packages.items() if name and "integrity" not in package]
    assert unchecked == []


def _pip(*arguments: str) -> None:
    _run(Path(sys.executable), "-m", "pip", "--disable-pip-version-check", *arguments, cwd=ROOT)


def _run(program: Path, *arguments: str, cwd: Path) -> str:
    # PYTHONPATH would bring the checkout back into the empty environment.
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        [program, *arguments], cwd=cwd, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout
