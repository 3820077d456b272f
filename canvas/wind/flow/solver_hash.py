"""Name the solver by what it computes, so that saved results of an older one are known for what they are.

Computes: a hash over the code of the modules whose numbers it decides, without comments, layout or docstrings.
Units: none.
Source: none.
Limits: a change that alters no number still alters the hash; the version of Python does not.
"""

from __future__ import annotations

import ast
import hashlib
from functools import lru_cache
from pathlib import Path

PHYSICS = ("cells", "cut", "grid", "levels", "solver", "domain", "march")
PROCESSOR, CARD = ("chunks", "cpu", "lines"), ("cuda",)


@lru_cache
def solver_hash(loops: tuple[str, ...] = PROCESSOR + CARD) -> str:
    """Return twelve hexadecimal digits that stand for the present solver.

    Parameters
    ----------
    loops : tuple of str
        Modules whose loops count: those of all devices, or of the one a table was made on.
    """
    digest = hashlib.sha256()
    for name in sorted(PHYSICS + loops):
        tree = ast.parse((Path(__file__).parent / f"{name}.py").read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            body = getattr(node, "body", None)
            if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef) and body:
                first = body[0]
                if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                    node.body = body[1:] or [ast.Pass()]
        digest.update(_told(tree).encode())
    return digest.hexdigest()[:12]


def _told(part: object) -> str:
    """Return a syntax tree as text, without the empty fields that one version of Python has and another has not."""
    if isinstance(part, list):
        return f"[{', '.join(_told(one) for one in part)}]"
    if not isinstance(part, ast.AST):
        return repr(part)
    fields = ((name, value) for name, value in ast.iter_fields(part) if value is not None and value != [])
    return f"{type(part).__name__}({', '.join(f'{name}={_told(value)}' for name, value in fields)})"
