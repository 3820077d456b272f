"""The package as it is handed on: what it holds, what it needs, and under which licences."""

import subprocess
import sys
import zipfile

import pytest

from tests.licences import PROJECT, bill, needed
from tests.whole.boats import ROOT

FREE = ("MIT", "BSD", "Apache", "ISC", "PSF", "Python Software Foundation", "MPL", "Mozilla", "Zlib", "CC0")


@pytest.mark.behaviour
def test_everything_the_base_install_brings_may_be_handed_on_with_mit():
    licences = needed(PROJECT["name"])
    assert len(licences) > len(PROJECT["dependencies"])
    bound = {name: licence for name, licence in licences.items() if not any(word in licence for word in FREE)}
    assert bound == {}


@pytest.mark.behaviour
def test_the_base_install_brings_no_toolkit_for_three_dimensions():
    assert not {"vtk", "pyvista", "trame", "dask", "opencv-python-headless"} & set(needed(PROJECT["name"]))


@pytest.mark.behaviour
def test_the_wheel_holds_all_that_the_packages_read(tmp_path):
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", str(ROOT), "--no-deps", "--quiet", "-w", str(tmp_path)],
        check=True, capture_output=True,
    )  # fmt: skip
    (wheel,) = tmp_path.glob("*.whl")
    held = set(zipfile.ZipFile(wheel).namelist())
    tracked = subprocess.run(
        ["git", "ls-files", "canvas", "viewer"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert set(tracked.stdout.split()) <= held
    assert any(name.endswith("licenses/LICENSE") for name in held)
    assert not any(name.startswith(("tests", "examples")) for name in held)


@pytest.mark.behaviour
def test_the_bill_of_materials_names_every_distribution():
    components = bill()["components"]
    assert {one["name"] for one in components} == set(needed(PROJECT["name"])) - {PROJECT["name"]}
    assert all(one["version"] and one["licenses"][0]["license"]["name"] for one in components)


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.parametrize("platform", ["x86_64-unknown-linux-gnu", "x86_64-pc-windows-msvc", "aarch64-apple-darwin"])
@pytest.mark.parametrize("python", ["3.11", "3.12", "3.13"])
def test_the_locked_versions_have_wheels_for(platform, python):
    asked = ["uv", "pip", "compile", "pyproject.toml", "--extra", "viewer", "--constraint", ".ci/constraints.txt"]
    asked += ["--python-platform", platform, "--python-version", python, "--only-binary", ":all:", "--quiet"]
    said = subprocess.run([sys.executable, "-m", *asked], cwd=ROOT, capture_output=True, text=True, check=False)
    assert said.returncode == 0, said.stderr
    assert "numba==" in said.stdout
