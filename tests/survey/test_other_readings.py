"""Hold plumb lines, tapes bent over marks and marks on one straight tube to moving the survey as they should."""

from itertools import pairwise

import pytest

from canvas.survey.from_design import marks_of
from tests.design.design_texts import example, read

SESSION = 'session = "alongside, first evening"'


def surveyed(*readings):
    """Return the marks of the surveyed example with further readings."""
    lines = "\n".join(f"  {reading}," for reading in readings)
    return marks_of(read(example("oddfellow").replace("reading = [\n", f"reading = [\n{lines}\n", 1)))


PLAIN = marks_of(read(example("oddfellow")))


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("toward", "axis", "sign"), [("aft", 0, 1), ("forward", 0, -1), ("starboard", 1, 1), ("port", 1, -1)]
)
def test_a_plumb_line_pulls_a_mark_its_own_way(toward, axis, sign):
    a, b = "hood_foot_port", ("tent_foot_port", "hood_foot_stbd")[axis]  # as high as one another
    apart = sign * float(PLAIN.at(b)[axis] - PLAIN.at(a)[axis])
    if apart < 0:
        a, b, apart = b, a, -apart

    def reach(length):
        line = f'kind = "plumb", from = "{a}", to = "{b}", {SESSION}, length = "{length:.4f} m", toward = "{toward}"'
        marks = surveyed(f'{{ {line}, sd = "0.1 mm" }}')
        return sign * float(marks.at(b)[axis] - marks.at(a)[axis])

    assert reach(apart + 0.010) - reach(apart) == pytest.approx(0.010, abs=0.0005)


@pytest.mark.behaviour
def test_a_tape_bent_over_a_mark_is_as_long_as_its_stretches():
    path = ["hood_foot_port", "tent_foot_port", "tent_foot_stbd"]
    stretches = [float(((PLAIN.at(a) - PLAIN.at(b)) ** 2).sum() ** 0.5) for a, b in pairwise(path)]
    bent = (
        f'{{ kind = "tape", from = "{path[0]}", to = "{path[2]}", via = ["{path[1]}"], '
        f'length = "{sum(stretches):.4f} m" }}'
    )
    marks = surveyed(bent)
    assert len(marks.residual) == len(PLAIN.residual) + 1
    assert abs(marks.residual).max() == pytest.approx(abs(PLAIN.residual).max(), abs=2e-4)


@pytest.mark.behaviour
def test_marks_on_one_straight_wire_are_brought_into_line():
    on = '{ kind = "on straight", marks = ["sole_forward", "ridge_aft", "sole_aft"], sd = "1 m" }'
    assert len(surveyed(on).residual) == len(PLAIN.residual) + 6
