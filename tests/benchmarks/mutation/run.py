"""Change one operator, number or statement of a module at a time, and see whether its own tests notice.

    nice -n 15 python -m tests.benchmarks.mutation.run adjust          # goes on where it stopped
    nice -n 15 python -m tests.benchmarks.mutation.run adjust --again  # the survivors once more, after new tests
    python -m tests.benchmarks.mutation.run --shares                   # the table of README.md

A mutant lives in memory only: no file of the project is touched. Each gets a process of its own, with the large
libraries already loaded. A mutant whose tests fail, or run three times as long as they should, is killed. The sample is
drawn by one seed from all places where a change can be made; texts, annotations and docstrings are none.
"""

import argparse
import ast
import copy
import csv
import importlib.abc
import importlib.util
import os
import random
import resource
import signal
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
SEED, SAMPLE = 11, 80
SAID = Path(tempfile.gettempdir()) / "canvas-mutation-output"  # of the last tests that ran
COLUMNS = ("number", "line", "before", "after", "outcome")


@dataclass(frozen=True)
class Aim:
    """One module and those of its tests that are asked, the quickest first; its slower ones can only kill more."""

    module: str
    tests: tuple[str, ...]


AIMS = {
    "adjust": Aim("canvas.survey.adjust", ("tests/survey/test_adjusted.py", "tests/survey/test_problems.py")),
    "seams": Aim("canvas.cutting.seams", ("tests/cutting/test_seams.py", "tests/cutting/test_joined_sides.py")),
    "dome": Aim("canvas.sky.dome", ("tests/sky/test_dome_map.py",)),
    "traced": Aim("canvas.sky.traced", ("tests/sky/test_dome_map.py",)),
    "samples": Aim("canvas.sky.samples", ("tests/sky/test_dome_map.py",)),
    "bits": Aim("canvas.sky.bits", ("tests/sky/test_bits.py", "tests/sky/test_dome_map.py")),
    "panorama": Aim("canvas.geometry.panorama", ("tests/geometry/test_panorama.py", "tests/sky/test_dome_map.py")),
}

SWAPS: dict[type, type] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult, ast.Pow: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum", "maximum": "minimum",
         "argmin": "argmax", "argmax": "argmin"}  # fmt: skip


def places(tree):
    """Yield each place of a module where one change can be made: node, field, position, what stands there instead."""
    skipped = set()
    for node in ast.walk(tree):
        hints = [getattr(node, name, None) for name in ("annotation", "returns")]
        hints += getattr(node, "decorator_list", [])
        for hint in hints:
            skipped |= {id(one) for one in ast.walk(hint)} if hint is not None else set()
        if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id == "Literal":
            skipped |= {id(one) for one in ast.walk(node)}
    for node in ast.walk(tree):
        if id(node) not in skipped:
            yield from _changes(node)
        for field, value in ast.iter_fields(node):
            if isinstance(value, list) and field in {"body", "orelse"}:
                for at, statement in enumerate(value):
                    if isinstance(statement, ast.AugAssign | ast.Raise | ast.Continue) or (
                        isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Call)
                    ):
                        yield statement, (node, field, at), ast.Pass()


def _changes(node):
    match node:
        case ast.BinOp(op=op) | ast.BoolOp(op=op) | ast.AugAssign(op=op) if type(op) in SWAPS:
            yield node, (node, "op", None), SWAPS[type(op)]()
        case ast.Compare(ops=ops):
            for at, op in enumerate(ops):
                yield node, (node, "ops", at), SWAPS[type(op)]()
        case ast.UnaryOp(op=ast.USub() | ast.Not()):
            yield node, (node, "op", None), ast.UAdd() if isinstance(node.op, ast.USub) else None
        case ast.If(test=test) | ast.IfExp(test=test) | ast.While(test=test):
            yield node.test, (node, "test", None), ast.UnaryOp(op=ast.Not(), operand=test)
        case ast.Constant(value=bool(value)):
            yield node, (node, "value", None), not value
        case ast.Constant(value=int() | float() as value):
            yield node, (node, "value", None), value + 1
        case ast.Name(id=name) if name in NAMES:
            yield node, (node, "id", None), NAMES[name]
        case ast.Attribute(attr=name) if name in NAMES:
            yield node, (node, "attr", None), NAMES[name]


def mutants(text):
    """Return the sample: number, line, text before, text after, source of the whole mutant."""
    count = sum(1 for _ in places(ast.parse(text)))
    made = []
    for number in sorted(random.Random(SEED).sample(range(count), min(SAMPLE, count))):
        tree = ast.parse(text)
        shown, (owner, field, at), new = list(places(tree))[number]
        before = ast.unparse(copy.deepcopy(shown))
        if new is None:  # "not x" becomes "x": two of them undo each other
            owner.op, new, field = ast.Not(), ast.UnaryOp(op=ast.Not(), operand=owner.operand), "operand"
        if at is None:
            setattr(owner, field, new)
        else:
            getattr(owner, field)[at] = new
        ast.fix_missing_locations(tree)
        after = "(left out)" if isinstance(new, ast.Pass) else ast.unparse(new if shown is not owner and at is None
                                                                             else shown)  # fmt: skip
        made.append((number, shown.lineno, before, after, ast.unparse(tree)))
    return made


class _Instead(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Give one module another source, and its machine code a folder of its own: it is looked up by file and line."""

    def __init__(self, name, source, path, loops):
        self.name, self.source, self.path, self.loops = name, source, path, loops

    def find_spec(self, fullname, path=None, target=None):
        if fullname != self.name:
            return None
        return importlib.util.spec_from_loader(fullname, self, origin=str(self.path))

    def exec_module(self, module):
        import numba

        module.__file__ = str(self.path)
        usual, numba.config.CACHE_DIR = numba.config.CACHE_DIR, self.loops
        exec(compile(self.source, str(self.path), "exec"), module.__dict__)
        numba.config.CACHE_DIR = usual


def outcome(aim, source, path, *, seconds):
    """Return "killed", "too long" or "survived", and the processor time, of the tests on one source.

    The first file of tests is asked alone; the others, which load more of the program, only where it notices nothing.
    """
    start = resource.getrusage(resource.RUSAGE_CHILDREN)
    there = [name for name in aim.tests if (ROOT / name).exists()]
    how = "survived"
    for tests in filter(None, (there[:1], there[1:])):
        how = _of_one_run(aim.module, source, path, tests, seconds=seconds)
        if how != "survived":
            break
    return how, resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - start.ru_utime


def _of_one_run(module, source, path, tests, *, seconds):
    with tempfile.TemporaryDirectory() as loops:
        status = _status(module, source, path, loops, tests, seconds=seconds)
    if os.WIFSIGNALED(status):
        return "too long" if os.WTERMSIG(status) in {signal.SIGXCPU, signal.SIGALRM} else "killed"
    return "survived" if os.WEXITSTATUS(status) == 0 else "killed"


def _status(module, source, path, loops, tests, *, seconds):
    child = os.fork()
    if child == 0:
        tempfile.tempdir = loops  # what the tests leave goes with it
        silent = os.open(SAID, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        if seconds is not None:
            resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds) + 5))
            signal.alarm(int(10 * seconds))
        sys.meta_path.insert(0, _Instead(module, source, path, loops))
        import pytest

        os._exit(int(pytest.main([*tests, "-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--no-header"])))
    return os.waitpid(child, 0)[1]


def _load_libraries():
    for library in ("OPENBLAS", "OMP", "MKL"):
        os.environ[f"{library}_NUM_THREADS"] = "1"
    for name in ("numpy", "scipy.sparse.linalg", "scipy.optimize", "scipy.spatial", "scipy.interpolate", "numba",
                 "shapely", "trimesh", "pydantic", "pytest", "pvlib", "manifold3d", "ezdxf"):  # fmt: skip
        importlib.import_module(name)


def _kept(name):
    path = HERE / f"{name}.csv"
    if not path.exists():
        return {}
    with path.open(newline="", encoding="utf-8") as stream:
        return {int(row["number"]): row for row in csv.DictReader(stream)}


def _keep(name, rows):
    with tempfile.NamedTemporaryFile("w", newline="", dir=HERE, delete=False, encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows[number] for number in sorted(rows))
    os.chmod(stream.name, 0o644)
    os.replace(stream.name, HERE / f"{name}.csv")


def measure(name, *, again, most):
    """Run the mutants of one module that have no outcome yet, or that survived."""
    _load_libraries()
    aim = AIMS[name]
    path = ROOT / (aim.module.replace(".", "/") + ".py")
    text = path.read_text(encoding="utf-8")
    rows = _kept(name)
    made = mutants(text)
    left = [one for one in made if one[0] not in rows or (again and rows[one[0]]["outcome"] == "survived")]
    if not left:
        return
    passed, quiet = outcome(aim, text, path, seconds=None)
    if passed != "survived":
        raise SystemExit(f"the tests of {name} fail without any change; see {SAID}")
    print(f"{name}: {len(left)} mutants; tests take {quiet:.0f} s of processor time", flush=True)
    for number, line, before, after, source in left[:most]:
        start = time.monotonic()
        how, _ = outcome(aim, source, path, seconds=3 * quiet + 10)
        rows[number] = dict(zip(COLUMNS, (number, line, before, after, how), strict=True))
        _keep(name, rows)
        print(f"{number:4d} line {line}: {before!r} -> {after!r}: {how} ({time.monotonic() - start:.0f} s)", flush=True)


def shares():
    """Print the share of killed mutants of each module."""
    print("| module | places | sample | killed | share |\n|---|---|---|---|---|")
    for name, aim in AIMS.items():
        text = (ROOT / (aim.module.replace(".", "/") + ".py")).read_text(encoding="utf-8")
        rows = _kept(name).values()
        killed = sum(row["outcome"] != "survived" for row in rows)
        count = sum(1 for _ in places(ast.parse(text)))
        print(f"| `{aim.module}` | {count} | {len(rows)} | {killed} | {100 * killed / max(len(rows), 1):.0f} % |")


def main():
    """Read what is asked and do it."""
    asked = argparse.ArgumentParser()
    asked.add_argument("name", nargs="?", choices=sorted(AIMS))
    asked.add_argument("--again", action="store_true")
    asked.add_argument("--most", type=int, default=SAMPLE)
    asked.add_argument("--shares", action="store_true")
    told = asked.parse_args()
    if told.name is not None:
        measure(told.name, again=told.again, most=told.most)
    if told.shares:
        shares()


if __name__ == "__main__":
    main()
