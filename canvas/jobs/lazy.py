"""Load a package's modules when a name of theirs is asked for, so that nobody waits for what only others need.

Computes: nothing.
Units: none.
Source: PEP 562.
Limits: a name stands in one module only.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from typing import Any


def names_in(package: str, modules: Mapping[str, Sequence[str]]) -> Callable[[str], Any]:
    """Return a package's ``__getattr__``.

    Parameters
    ----------
    package : str
        Its own name.
    modules : mapping of str to sequence of str
        By module of the package, the names that are to be had from it.
    """

    def asked(name: str) -> Any:
        for module, names in modules.items():
            if name in names:
                return getattr(import_module(f"{package}.{module}"), name)
        raise AttributeError(f"module {package!r} has no attribute {name!r}")

    return asked
