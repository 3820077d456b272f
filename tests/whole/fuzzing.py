"""Feed bytes to the readers of designs, of meshes and scans, and of lists; only a refusal in words may come of them.

    python -m tests.whole.fuzzing design --seconds 300

runs atheris (coverage-guided) from the corpus in tests/whole/corpus and keeps what it finds in a scratch folder; a file
that broke a reader is left there. The corpus itself holds a file for each kind of input and for each fault once found;
tests/whole/test_fuzzing.py replays it.
"""

import argparse
import sys
import tempfile
from pathlib import Path

CORPUS = Path(__file__).parent / "corpus"
SUFFIXES = (".ply", ".obj", ".glb", ".stl")
WORDS = ("name", "units", "hull", "vane", "crew", "marks", "tube", "panel", "edges", "finish", "along", "set", "up")


def _refused(reader, *arguments, **named):
    """Return whether the reader refused in words; any other error goes on."""
    from canvas.design.problems import DesignError

    problems = None
    try:
        reader(*arguments, **named)
    except DesignError as refused:
        problems = refused.problems
    assert problems is None or (problems and all(one.found and one.wanted and str(one) for one in problems))
    return problems is not None


def design(data, folder):
    """Read bytes as a design file."""
    from canvas.design.reading import decoded, parse_design

    def whole(raw):
        parse_design(decoded(raw, file="boat.toml"), file="boat.toml", folder=folder)

    return _refused(whole, data)


def mesh(data, folder):
    """Read bytes as a scan, and as the mesh of a solid; the first byte chooses the format."""
    from types import SimpleNamespace

    from canvas.asbuilt.scanfile import read_scan
    from canvas.design.schema.boat import Solid
    from canvas.geometry.solids import body_problems

    if not data:
        return True
    path = folder / f"mesh{SUFFIXES[data[0] % len(SUFFIXES)]}"
    path.write_bytes(data[1:])
    solid = Solid.model_validate({"name": "raft", "kind": "mesh", "file": path.name, "scale": "1 m"},
                                 context={"units": "m"})  # fmt: skip
    found = list(body_problems(SimpleNamespace(solid=[solid], marks={}), folder=folder))
    assert all(one.found and one.wanted for one in found)
    return _refused(read_scan, path)


def lists(data, folder):
    """Read bytes as a list of picked points and as a list of targets; the first byte chooses the format."""
    from canvas.asbuilt.picked import read_picked
    from canvas.asbuilt.stuck import read_list

    if not data:
        return True
    if data[0] % 3 == 2:
        path = folder / "targets.csv"
        path.write_bytes(data[1:])
        return _refused(read_list, path)
    path = folder / ("picked.csv", "picked.toml")[data[0] % 3]
    path.write_bytes(data[1:])
    return _refused(read_picked, path)


TARGETS = {"design": design, "mesh": mesh, "lists": lists}


def main():
    """Run one target under atheris for a while."""
    import atheris

    asked = argparse.ArgumentParser()
    asked.add_argument("target", choices=sorted(TARGETS))
    asked.add_argument("--seconds", type=int, default=300)
    asked.add_argument("--scratch", type=Path, default=Path(tempfile.gettempdir()) / "canvas-fuzz")
    told = asked.parse_args()
    with atheris.instrument_imports(include=["tomllib", "canvas", "trimesh.exchange"]):
        import trimesh.exchange.load  # noqa: F401

        import canvas.asbuilt.picked
        import canvas.asbuilt.scanfile
        import canvas.asbuilt.stuck
        import canvas.design.reading
        import canvas.geometry.solids  # noqa: F401
    grown = told.scratch / told.target
    grown.mkdir(parents=True, exist_ok=True)
    words = told.scratch / "words"
    words.write_text("".join(f'"{word}"\n' for word in WORDS), encoding="utf-8")
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as folder:
        place = Path(folder)
        atheris.Setup(
            [sys.argv[0], str(grown), str(CORPUS / told.target), f"-max_total_time={told.seconds}", "-timeout=20",
             "-rss_limit_mb=3000", "-max_len=20000", f"-dict={words}", f"-artifact_prefix={grown}-", "-seed=1",
             "-print_final_stats=1", "-verbosity=1"],
            lambda data: TARGETS[told.target](data, place) and None,
        )  # fmt: skip
        atheris.Fuzz()


if __name__ == "__main__":
    main()
