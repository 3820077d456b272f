"""Spoil the examples' design files as tired hands do: numbers, units, names, lines, letters.

The seed decides everything, so that a file that broke the program can be made again.
"""

import random
import re
from pathlib import Path

EXAMPLES = Path(__file__).parents[2] / "examples"
BOATS = ("marrowgrass", "oddfellow", "lantern-hill")
QUANTITY = re.compile(r'"(-?[\d.]+) (m|mm|cm|deg|kn|%|kg|s|N|ft)"')
WORD = re.compile(r'= "([a-z][a-z_ ,]+)"')


def mutant(seed):
    """Return the name of the boat, what was done to it, and the spoilt text."""
    draw = random.Random(seed)
    boat = BOATS[seed % len(BOATS)]
    text = (EXAMPLES / f"{boat}.toml").read_text(encoding="utf-8")
    done = []
    for _ in range(draw.choice([1, 1, 1, 2, 3])):
        change = draw.choice(CHANGES)
        text = change(text, draw)
        done.append(change.__name__.strip("_"))
    return boat, ", ".join(done), text


def _one(pattern, text, draw):
    return draw.choice(list(pattern.finditer(text)))


def _put(text, match, new):
    return text[: match.start()] + new + text[match.end() :]


def _scaled(text, draw):
    hit = _one(QUANTITY, text, draw)
    factor = draw.choice([0.0, 0.01, 0.5, 0.9, 1.1, 2.0, 10.0, 1000.0])
    return _put(text, hit, f'"{float(hit[1]) * factor:g} {hit[2]}"')


def _signed(text, draw):
    hit = _one(QUANTITY, text, draw)
    return _put(text, hit, f'"{-float(hit[1]):g} {hit[2]}"')


def _unit(text, draw):
    hit = _one(QUANTITY, text, draw)
    return _put(text, hit, f'"{hit[1]} {draw.choice(["mm", "m", "in", "deg", "kn", "%", "furlong", ""])}"')


def _name(text, draw):
    hit, other = _one(WORD, text, draw), _one(WORD, text, draw)
    return _put(text, hit, f'= "{other[1]}"')


def _line_gone(text, draw):
    lines = text.split("\n")
    del lines[draw.randrange(len(lines))]
    return "\n".join(lines)


def _line_twice(text, draw):
    lines = text.split("\n")
    at = draw.randrange(len(lines))
    return "\n".join(lines[: at + 1] + lines[at:])


def _letter(text, draw):
    at = draw.randrange(len(text))
    return text[:at] + draw.choice("\"'[]{}=,.#-0Zä\t\x07") + text[at + 1 :]


def _block_gone(text, draw):
    """Take a whole table out, as when a part of the file was lost."""
    heads = [match.start() for match in re.finditer(r"(?m)^\[", text)]
    k = draw.randrange(len(heads))
    return text[: heads[k]] + (text[heads[k + 1] :] if k + 1 < len(heads) else "")


CHANGES = (_scaled, _scaled, _scaled, _signed, _unit, _name, _line_gone, _line_twice, _letter, _block_gone)
