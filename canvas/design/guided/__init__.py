"""Start a design of one's own from the numbers that matter, or from an example.

Computes: questions with usual values and ranges, the text of a complete design from the answers, a drawing in letters.
Units: SI inside; answers are typed in the units of the design.
Source: proportions in `canvas.design.guided.boat`, common practice, no source.
Limits: all that was not asked for is a guess and is listed under `assumed` in the design.
"""

from canvas.design.guided.boat import design_text
from canvas.design.guided.examples import example_names, example_text
from canvas.design.guided.interview import interview
from canvas.design.guided.questions import Answers, Question, answer_from, complete, questions
from canvas.design.guided.sketch import sketch

__all__ = [
    "Answers", "Question", "answer_from", "complete", "design_text", "example_names", "example_text", "interview",
    "questions", "sketch",
]  # fmt: skip
