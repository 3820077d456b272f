"""Run many sets of made photographs, and write what came of each: python -m tests.benchmarks.photo.study --help.

`sets`: rendered photographs of 24 targets at marks of an example, four of them moved, without tape and with three
distances. `covariance`: simulated detections; share of marks inside their stated 95 % ellipsoid.
"""

from __future__ import annotations

import argparse
import csv
import time
from pathlib import Path

import cv2
import numpy as np

from canvas.asbuilt.photographs import take_photographs
from canvas.asbuilt.targets import look_at
from canvas.survey.datum import rigid_fit
from tests.asbuilt import photos, scans

FOLDER = Path(__file__).parent
CHI2_95 = 7.814728  # of three degrees of freedom


def places_for(seed, name="marrowgrass"):
    """Return 24 spots for targets: the example's marks, and others between them to make up the number."""
    marks = scans.boat(name).model.marks.xyz
    rng = np.random.default_rng(seed)
    marks = marks[(marks[:, 0] > -1) & (marks[:, 0] < 4)][:24]
    rest = 24 - len(marks)
    return np.vstack([marks, np.c_[rng.uniform(0, 2.6, rest), rng.uniform(-1, 1, rest), rng.uniform(0.2, 1.2, rest)]])


def one_set(seed, *, count=30):
    """Return the rendered set of one seed and what is seen in it."""
    rng = np.random.default_rng(seed)
    made = photos.made_set(places_for(seed), seed=seed, moved=4, photos=count, stretch=rng.normal(0, 0.0005))
    seen = [look_at(photos.rendered(made, p, seed=seed), file=f"{p:02d}.jpg") for p in range(count)]
    return made, seen


def judged(made, seen, *, tapes, seed):
    """Return largest error of the marks that stood still [mm], moved ones not named, still ones named, seconds."""
    began = time.process_time()
    got = take_photographs(seen, made.stuck, survey=photos.survey_for(made, tapes=tapes, seed=seed), size_sd=0.0005)
    rows = [int(name.split("_")[1]) - 1 for name in got.marks.names]
    keep = [k for k, row in enumerate(rows) if row not in made.moved and got.views[k] >= 2]
    true = made.places[rows]
    turn, shift = rigid_fit(got.marks.xyz[keep], true[keep], mirrored=False, dimension=3)
    error = np.linalg.norm((got.marks.xyz @ turn + shift - true)[keep], axis=1)
    named = {one.number - 1 for one in got.moved}
    seeable = {row for row, (when, _, _) in made.moved.items() if _both_sides(seen, made.stuck[row].number, when)}
    return (
        1000 * float(error.max()),
        len(seeable - named),
        len(named - set(made.moved)),
        len(keep),
        (time.process_time() - began),
    )


def _both_sides(seen, number, when):
    """Return whether a target was read at least twice before and after it moved: else nobody could tell."""
    rows = [p for p, one in enumerate(seen) if number in one.numbers.tolist()]
    return sum(p < when for p in rows) >= 2 and sum(p >= when for p in rows) >= 2


def inside(seed, *, made, noise=0.15):
    """Return how many marks of one simulated set lie inside their stated 95 % ellipsoid, and of how many."""
    rng = np.random.default_rng(seed)
    held = (0, 7, 14, 21)
    stretch = float(rng.normal(0, 0.001))
    drawn = photos.replace(made, stretch=stretch)
    seen = photos.ideal(drawn, noise=noise, seed=seed)
    survey = photos.survey_for(made, tapes=3, held=held, seed=seed)
    got = take_photographs(seen, made.stuck, survey=survey, size_sd=0.001)
    count = good = 0
    for k, name in enumerate(got.marks.names):
        row = int(name.split("_")[1]) - 1
        if row not in held and got.views[k] >= 2:
            gap = got.marks.xyz[k] - made.places[row]
            good += float(gap @ np.linalg.solve(got.marks.joint([name]), gap)) < CHI2_95
            count += 1
    return good, count


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("what", choices=("sets", "covariance"))
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=50)
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    path = FOLDER / f"{asked.what}.csv"
    new = not path.exists()
    made = photos.made_set(places_for(0), seed=0, photos=24) if asked.what == "covariance" else None
    with path.open("a", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        if new:
            writer.writerow(
                ("seed", "inside", "of") if made else
                ("seed", "tapes", "largest_error_mm", "moved_not_named", "still_named", "marks", "cpu_s")
            )  # fmt: skip
        for seed in range(asked.first, asked.first + asked.count):
            if made is not None:
                writer.writerow((seed, *inside(seed, made=made)))
            else:
                drawn, seen = one_set(seed)
                for tapes in (0, 3):
                    largest, missed, wrong, marks, seconds = judged(drawn, seen, tapes=tapes, seed=seed)
                    writer.writerow((seed, tapes, f"{largest:.2f}", missed, wrong, marks, f"{seconds:.1f}"))
            stream.flush()


if __name__ == "__main__":
    main()
