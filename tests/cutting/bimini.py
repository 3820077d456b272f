"""Marrowgrass with new canvas on her bimini's three bows in place of what is there: it strains past its limit."""

from pathlib import Path

from canvas.design.reading import parse_design
from canvas.verbs.asking import rigging_of

EXAMPLES = Path(__file__).parents[2] / "examples"
NEW = """name = "new bimini"
cloth = "coated polyester 300"
cut_in = "shade"
edges = [
  { name = "forward", along = "bimini forward bow", from = "bimini_fwd_port", to = "bimini_fwd_stbd", finish = "zip" },
  { name = "starboard", finish = "webbing hem", hollow = "3 %" },
  { name = "aft", along = "bimini aft bow", from = "bimini_aft_stbd", to = "bimini_aft_port", finish = "zip" },
  { name = "port", finish = "webbing hem", hollow = "3 %" },
]
over = ["bimini middle bow"]
ASKED

"""

TWO = """darts = [
  { edge = "starboard", at = "726 mm", depth = "450 mm" }, { edge = "port", at = "726 mm", depth = "450 mm" },
]"""
MIDDLE = 'seams = [["1.86 m", "0 m", "2.05 m"]]'


def design_text(asked: str, *, cloth: str = "coated polyester 300", hollow: str = "3 %") -> str:
    """Return the design with what the new bimini asks for: its darts, its seams."""
    text = (EXAMPLES / "marrowgrass.toml").read_text(encoding="utf-8")
    first = text.index('name = "bridging piece"')
    new = NEW.replace("ASKED", asked).replace("coated polyester 300", cloth).replace("3 %", hollow)
    text = text[:first] + new + text[text.index("[[panel]]", first) :]
    text = text.replace('"bimini", "bridging piece"]', '"new bimini"]')
    return text.replace('"bimini", "bridging piece", "tent side', '"bimini", "tent side')


def rigged(asked: str, **more: str):
    """Return that boat, ready to be cut."""
    return rigging_of(parse_design(design_text(asked, **more), file="bimini.toml", folder=EXAMPLES))
