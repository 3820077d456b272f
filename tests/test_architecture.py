"""Hold the structure of the project: one direction of imports, modules that say what they compute, doors kept."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted([*ROOT.glob("canvas/**/*.py"), *ROOT.glob("viewer/**/*.py")])
DOORS = {
    "pvlib": {"canvas/sky/sun.py"},
    "embreex": {"canvas/geometry/rays.py"},
    "ezdxf": {"canvas/cutting/dxf.py"},
    "pyvista": {"viewer/"},
    "trame": {"viewer/"},
    "spyrrow": {"canvas/cutting/"},
    "manifold3d": {"canvas/asbuilt/", "canvas/geometry/"},
    "potpourri3d": {"canvas/cutting/"},
    "tomlkit": {"canvas/design/"},
    "reportlab": {"canvas/brief/", "canvas/cutting/"},
    "matplotlib": {"canvas/brief/", "viewer/"},
    "cv2": {"canvas/asbuilt/"},
}
LONG = {  # functions of more than 60 lines, most of it what they take and give
    "canvas/verbs/variants.py search", "canvas/wind/flow/march.py march", "canvas/wind/flow/run.py rose",
}  # fmt: skip


@pytest.mark.behaviour
def test_imports_run_one_way():
    found = subprocess.run(
        [Path(sys.executable).parent / "lint-imports"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert found.returncode == 0, found.stdout


@pytest.mark.behaviour
@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_module_says_what_it_computes(module):
    doc = ast.get_docstring(ast.parse(module.read_text(encoding="utf-8"))) or ""
    missing = [word for word in ("Computes:", "Units:", "Source:", "Limits:") if word not in doc]
    assert not missing, f"{module.relative_to(ROOT)} opens without {missing}"


def public_functions(module):
    """Yield each public function and method of a module with its name."""
    for node in ast.parse(module.read_text(encoding="utf-8")).body:
        inside = [node] if isinstance(node, ast.FunctionDef) else getattr(node, "body", [])
        for one in inside if not getattr(node, "name", "_").startswith("_") else []:
            if isinstance(one, ast.FunctionDef) and not one.name.startswith("_"):
                yield one


@pytest.mark.behaviour
@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_public_functions_say_what_they_take(module):
    """Five parameters or more have a section, or say whose they are like; kernels have their module's head."""
    place, missing = module.relative_to(ROOT).as_posix(), []
    for one in public_functions(module) if place.startswith("canvas/") else ():
        doc = ast.get_docstring(one) or ""
        taken = [a.arg for a in (*one.args.posonlyargs, *one.args.args, *one.args.kwonlyargs) if a.arg != "self"]
        told = any(word in doc for word in ("Parameters\n", "see `", "as in `", "As in `", "does for", " as `"))
        verb = place.startswith("canvas/cli/") and "Example: canvas" in doc
        kernel = place.startswith("canvas/wind/flow/") or "compiled code takes no keywords" in module.read_text("utf-8")
        if not doc or (len(taken) > 4 and not (told or verb or kernel)):
            missing.append(one.name)
    assert not missing


@pytest.mark.behaviour
@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_modules_and_functions_stay_short(module):
    text, place = module.read_text(encoding="utf-8"), module.relative_to(ROOT).as_posix()
    assert text.count("\n") <= 400
    functions = [one for one in ast.walk(ast.parse(text)) if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef)]
    long = {f"{place} {one.name}" for one in functions if one.end_lineno - one.lineno >= 60}
    assert long <= LONG


@pytest.mark.behaviour
def test_outside_libraries_enter_by_their_doors():
    strays = []
    for module in MODULES:
        place = module.relative_to(ROOT).as_posix()
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names = [node.module]
            for name in names:
                doors = DOORS.get(name.split(".")[0])
                if doors is not None and not any(place.startswith(door) for door in doors):
                    strays.append(f"{place}:{node.lineno} imports {name}")
    assert not strays


@pytest.mark.behaviour
@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_paths_that_pages_name_exist(page):
    text = (ROOT / page).read_text(encoding="utf-8")
    named = set(re.findall(r"`((?:canvas|viewer|tests|examples|\.ci)/[\w./-]*)`", text))
    assert not sorted(path for path in named if not (ROOT / path).exists())
