"""Find spoilt copies of the examples that `check` still answers, for the test that reports on them.

    nice -n 15 python -m tests.whole.valid_seeds

Three seeds in ten are: most spoilt files are refused. The seeds are the first that are, from 1000 on, and stay in
valid_seeds.toml: look for them anew when an example changed, for a seed picks its place in the example's text.
"""

import json
import tomllib
from pathlib import Path

from canvas import verbs
from canvas.design.problems import DesignError
from canvas.design.reading import parse_design
from canvas.jobs.failure import CouldNot
from tests.whole.mutants import EXAMPLES, mutant

KEPT = Path(__file__).with_suffix(".toml")
FIRST, WANTED = 1000, 40


def checked(seed):
    """Return the read design where `check` answers it, None where it is refused in words."""
    boat, done, text = mutant(seed)
    problems, advice = (), "none needed"
    try:
        source = parse_design(text, file=f"{boat}.toml", folder=EXAMPLES)
        json.dumps(verbs.check(source).record(), allow_nan=False)
    except DesignError as refused:
        source, problems = None, refused.problems
    except CouldNot as failure:
        source, advice = None, failure.advice
    assert advice, (seed, done)
    for problem in problems:
        assert problem.found, (seed, done, problem)
        assert problem.wanted, (seed, done, problem)
        assert problem.line is None or 1 <= problem.line <= text.count("\n") + 2, (seed, done, problem)
    return source


def kept():
    """Return the seeds found before."""
    return tomllib.loads(KEPT.read_text(encoding="utf-8"))["seeds"]


def main():
    """Look for them and write them down."""
    found, seed = [], FIRST
    while len(found) < WANTED:
        if checked(seed) is not None:
            found.append(seed)
        seed += 1
    rows = ["    " + ", ".join(map(str, found[k : k + 10])) + ",\n" for k in range(0, WANTED, 10)]
    how = f"# The first {WANTED} of the seeds {FIRST} to {seed - 1} whose spoilt copy `check` answers.\n"
    how += "# Found by python -m tests.whole.valid_seeds, from the examples as they stand beside this.\n"
    KEPT.write_text(f"{how}seeds = [\n{''.join(rows)}]\n", encoding="utf-8")


if __name__ == "__main__":
    main()
