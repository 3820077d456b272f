"""Hold README, DEVELOPERS and the examples in docstrings to what the program does."""

import ast
import doctest
import importlib
import json
import re
import shlex
import tomllib

import pytest
import typer.main

from canvas.cli import app
from tests.whole.boats import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
EXAMPLED = sorted(
    path.relative_to(ROOT).with_suffix("").as_posix().replace("/", ".").removesuffix(".__init__")
    for path in ROOT.glob("canvas/**/*.py")
    if ">>>" in path.read_text(encoding="utf-8")
)
WORKED = (ROOT / "examples" / "from-tape-to-cloth.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```sh\n(.*?)^```", README + WORKED, flags=re.MULTILINE | re.DOTALL)
COMMANDS = [line.strip() for block in BLOCKS for line in block.splitlines() if line.strip() and line[0] != "#"]
CANVAS = [part for line in COMMANDS for part in re.findall(r"(?:\S*/)?canvas ([^&|\n]+)", line)]


@pytest.mark.behaviour
@pytest.mark.parametrize("module", EXAMPLED)
def test_examples_in_docstrings_come_out_as_written(module, monkeypatch):
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(importlib.import_module(module))
    assert found.attempted > 0
    assert found.failed == 0


@pytest.mark.behaviour
def test_some_docstrings_have_examples():
    assert {"canvas.verbs", "canvas.design.units", "canvas.design.positions"} <= set(EXAMPLED)


@pytest.mark.behaviour
def test_readme_gives_two_commands_first():
    part = README.partition("## Two commands")[2].partition("\n## ")[0]
    lines = [line for block in re.findall(r"```sh\n(.*?)```", part, flags=re.DOTALL) for line in block.splitlines()]
    report, test = (line for line in lines if line.strip())
    assert report.rstrip().endswith("canvas report examples/marrowgrass.toml -o out/marrowgrass")
    assert test.rstrip().endswith("pytest")
    for line in (report, test):
        assert "-m venv .venv" in line
        assert "pip install -e " in line
    extras = re.search(r"\[([\w,]+)\]", test).group(1).split(",")
    known = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    assert set(extras) == set(known)


@pytest.mark.behaviour
@pytest.mark.parametrize("line", CANVAS)
def test_command_lines_that_the_pages_show_are_understood(line):
    verb, *words = shlex.split(line, comments=True)
    commands = typer.main.get_command(app).commands
    assert verb in commands
    made = commands[verb].make_context(verb, list(words), resilient_parsing=False)
    design = made.params.get("design")
    assert design is None or not str(design).startswith("examples/") or (ROOT / design).is_file()


@pytest.mark.behaviour
def test_pages_show_pictures_that_are_there_and_words_as_the_table_has_them():
    for page, folder in ((README, ROOT), (WORKED, ROOT / "examples")):
        shown = re.findall(r"\]\(([\w/.-]+\.svg)\)", page)
        assert shown
        assert all((folder / name).is_file() for name in shown)
    words = tomllib.loads((ROOT / "canvas" / "design" / "tables" / "words.toml").read_text(encoding="utf-8"))
    differ = {(one["international"], one["american"]) for one in words.values() if len(set(one.values())) > 1}
    assert all(f"| {here} | {there} |" in WORKED for here, there in differ)


@pytest.mark.behaviour
def test_the_notebook_runs(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    cells = json.loads((ROOT / "examples" / "first-look.ipynb").read_text(encoding="utf-8"))["cells"]
    told = {}
    for cell in cells:
        if cell["cell_type"] == "code":
            exec("".join(cell["source"]), told)
    assert "wet watch" in capsys.readouterr().out


@pytest.mark.behaviour
@pytest.mark.parametrize("verb", sorted(typer.main.get_command(app).commands))
def test_examples_in_the_help_are_understood(verb):
    commands = typer.main.get_command(app).commands
    shown = re.search(r"Example: canvas (.*)", commands[verb].help).group(1)
    said, *words = shlex.split(shown)
    assert said == verb
    commands[verb].make_context(verb, words)


@pytest.mark.behaviour
def test_developers_page_knows_every_layer_and_every_name_it_uses():
    layers = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]
    names = [name.strip() for layer in layers[0]["layers"] for name in layer.split("|")]
    missing = [name for name in names if f"`{name.replace('.', '/')}" not in DEVELOPERS]
    assert missing == []
    defined = set()
    for path in [*ROOT.glob("canvas/**/*.py"), *ROOT.glob("viewer/**/*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                defined.add(node.name)
            elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
                defined.add(node.id)
    used = set(re.findall(r"`([A-Z][A-Za-z]+|[a-z]+(?:_[a-z]+)+)(?:\([^`]*\))?`", DEVELOPERS))
    assert sorted(used - defined) == []
