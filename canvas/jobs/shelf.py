"""Keep what slow functions found from one call of the program to the next.

Computes: nothing; a key of the function, all it is given, the program's own source and the libraries that compute; puts
    records of arrays into files and takes them out.
Units: bytes.
Source: none.
Limits: only for functions whose outcome follows from what they are given and from the program; numbers count to their
    last bit. A file that cannot be read counts as absent, one that cannot be written is left out; what was longest not
    asked for goes first when the folder grows past `MOST`.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import os
import platform
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from enum import Enum
from functools import lru_cache
from importlib import import_module, metadata
from pathlib import Path
from typing import Any, Generic, Literal, ParamSpec, TypeVar

import numpy as np

from canvas.jobs.cache import cache_folder, key_of, load, save
from canvas.jobs.failure import CouldNot

P = ParamSpec("P")
T = TypeVar("T")

MOST = 300_000_000  # bytes the folder may hold; a boat of six sets takes some ten million
LIBRARIES = ("embreex", "numba", "numpy", "pandas", "pvlib", "scipy", "shapely", "trimesh")  # whose numbers these are
PROGRAM = Path(__file__).parents[1]
TREE, DATA = "tree", "data"  # how an outcome hangs together, and the bytes of its arrays one after another


@dataclass(frozen=True, slots=True)
class Shelf:
    """A folder of results.

    Attributes
    ----------
    folder : Path
        Made when first written to.
    """

    folder: Path

    def ask(self, function: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        """Return what a function of a module gives, from the shelf where it lies there.

        Parameters
        ----------
        function : callable
            Its outcome must follow from what it is given and from the program's source alone.
        *given, **named
            Its arguments: numbers, text, days, arrays, records, and sequences and mappings of these. Where one of them,
            or the outcome, is something else, nothing is kept.
        """
        try:
            key = key_of(program(), function.__module__, function.__qualname__, values_of(given), values_of(named))
        except TypeError:
            return function(*given, **named)
        with contextlib.suppress(_Absent):
            found: T = self._found(key)
            return found
        outcome = function(*given, **named)
        self._keep(key, outcome)
        return outcome

    def _found(self, key: str) -> Any:
        arrays = load(self.folder, key)
        if arrays is None:
            raise _Absent
        with contextlib.suppress(OSError):
            os.utime(self.folder / f"{key}.npz")
        try:
            told = json.loads(arrays[TREE].tobytes())
            outcome = _unpacked(told["outcome"], arrays[DATA].tobytes())
        except Exception as error:  # a foreign file fails in any way there is
            raise _Absent from error
        if told["key"] != key:  # laid there under another's name
            raise _Absent
        return outcome

    def _keep(self, key: str, outcome: Any) -> None:
        if self.folder.exists() and not os.access(self.folder, os.W_OK):
            return
        packing = _Packing()
        with contextlib.suppress(CouldNot, TypeError):
            told = json.dumps({"key": key, "outcome": packing.packed(outcome)})
            pieces = {TREE: told.encode(), DATA: b"".join(packing.pieces)}
            save(self.folder, key, {name: np.frombuffer(piece, dtype=np.uint8) for name, piece in pieces.items()})
            self._make_room()

    def _make_room(self) -> None:
        """Remove what was longest not asked for while the folder holds too much, pieces of unfinished files too."""
        held = []
        with contextlib.suppress(OSError), os.scandir(self.folder) as entries:
            for entry in entries:
                with contextlib.suppress(OSError):  # another process may have removed it meanwhile
                    about = entry.stat()
                    held.append((about.st_mtime_ns, about.st_size, entry.path))
        over = sum(size for _, size, _ in held) - MOST
        for _, size, path in sorted(held):
            if over <= 0:
                return
            with contextlib.suppress(OSError):
                os.unlink(path)
                over -= size


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Derived(Generic[T]):
    """Something slow to make that follows from other things: a question with it in it is known by those.

    Attributes
    ----------
    of : tuple
        All it follows from.
    make : callable
        Gives it; asked only where the question's answer does not lie on the shelf.
    """

    of: tuple[Any, ...]
    make: Callable[[], T]


class _Absent(Exception):
    """Nothing that can be used lies there."""


def usual_shelf() -> Shelf | None:
    """Return the shelf in the folder for kept results; None where no such folder is known."""
    try:
        return Shelf(cache_folder() / "shelf")
    except RuntimeError:  # nobody's home folder
        return None


def from_shelf(shelf: Shelf | None, function: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
    """Return what a function gives, from the shelf where there is one; see `Shelf.ask`."""
    return function(*given, **named) if shelf is None else shelf.ask(function, *given, **named)


@lru_cache(maxsize=1)
def program() -> str:
    """Return a key of the program's source, its tables, and the libraries and kind of machine that it computes on."""
    digest = hashlib.sha256()
    for path in sorted(one for one in PROGRAM.rglob("*") if one.suffix in (".py", ".toml", ".csv")):
        digest.update(f"{path.relative_to(PROGRAM).as_posix()};".encode())
        digest.update(path.read_bytes())
    return key_of(digest.hexdigest(), platform.python_version(), platform.machine(), platform.system(),
                  [_version(name) for name in LIBRARIES])  # fmt: skip


def values_of(part: Any) -> Any:
    """Return records, mappings, days, names and slices as sequences of their values, for a key."""
    if isinstance(part, Derived):
        return ["derived", values_of(part.of)]
    if is_dataclass(part) and not isinstance(part, type):
        return [type(part).__qualname__, *(values_of(getattr(part, one.name)) for one in fields(part))]
    if isinstance(part, Mapping):
        return ["mapping", *([values_of(name), values_of(value)] for name, value in part.items())]
    if isinstance(part, tuple | list):
        return [values_of(one) for one in part]
    if isinstance(part, date | Enum):
        return [type(part).__name__, part.isoformat() if isinstance(part, date) else part.name]
    return ["slice", part.start, part.stop, part.step] if isinstance(part, slice) else part


def _version(name: str) -> str | None:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return None


class _Packing:
    """Records on their way into a file: a tree that JSON can hold, and the bytes of its arrays one after another."""

    def __init__(self) -> None:
        self.pieces: list[bytes] = []
        self._size = 0
        self._places: dict[bytes, int] = {}

    def packed(self, part: Any) -> Any:
        """Return a part as JSON can hold it."""
        if part is None or type(part) in (bool, int, float, str):
            return part
        if isinstance(part, np.ndarray | np.generic) and part.dtype.kind in "biufU":
            order: Literal["C", "F"] = "C" if part.flags.c_contiguous or not part.flags.f_contiguous else "F"
            return {
                "array": [part.dtype.str, list(part.shape), order, self._place(part.tobytes(order))],
                "single": isinstance(part, np.generic), "open": bool(part.flags.writeable),
            }  # fmt: skip
        if is_dataclass(part) and not isinstance(part, type) and type(part).__module__.startswith("canvas."):
            held = {one.name: self.packed(getattr(part, one.name)) for one in fields(part)}
            return {"record": [type(part).__module__, type(part).__qualname__], "fields": held}
        if isinstance(part, Enum) and type(part).__module__.startswith("canvas."):
            return {"one of": [type(part).__module__, type(part).__qualname__], "name": part.name}
        if type(part) in (tuple, list):
            return {type(part).__name__: [self.packed(one) for one in part]}
        if type(part) is dict:
            return {"mapping": [[self.packed(name), self.packed(value)] for name, value in part.items()]}
        raise TypeError(f"{type(part).__name__} cannot be kept")

    def _place(self, piece: bytes) -> int:
        """Put bytes behind the others and return where they begin; those that are there already lie there once."""
        place = self._places.setdefault(piece, self._size)
        if place == self._size and piece:
            self.pieces.append(piece)
            self._size += len(piece)
        return place


def _unpacked(told: Any, data: bytes) -> Any:
    """Return what was packed."""
    if not isinstance(told, dict):
        return told
    if "array" in told:
        dtype, shape, order, place = told["array"]
        flat = np.frombuffer(data, dtype=np.dtype(dtype), count=math.prod(shape), offset=place if 0 not in shape else 0)
        array = flat.reshape(shape, order=order).copy(order="K")
        array.setflags(write=told["open"])
        return array[()] if told["single"] else array
    if "record" in told:
        kind = _kind(*told["record"])
        return kind(**{name: _unpacked(value, data) for name, value in told["fields"].items()})
    if "one of" in told:
        return _kind(*told["one of"])[told["name"]]
    if "mapping" in told:
        return {_unpacked(name, data): _unpacked(value, data) for name, value in told["mapping"]}
    name, parts = next(iter(told.items()))
    return {"tuple": tuple, "list": list}[name](_unpacked(one, data) for one in parts)


def _kind(module: str, name: str) -> Any:
    """Return a class of records, or of names, of this program."""
    kind = getattr(import_module(module), name) if module.startswith("canvas.") else None
    if not (isinstance(kind, type) and (is_dataclass(kind) or issubclass(kind, Enum))):
        raise TypeError(f"{module}.{name} is no record")
    return kind
