"""Keep results on disk under a key that names all they depend on.

Computes: sha256 keys; whole-file writing and reading of arrays.
Units: none.
Source: none.
Limits: a file that cannot be read counts as absent; nothing is deleted here (see `canvas.jobs.shelf`); the folder is
    the user's to empty.
"""

from __future__ import annotations

import hashlib
import io
import os
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from canvas.jobs.files import write_whole

QUICK = 1  # level of compression: a third larger than numpy's, in a quarter of its time


def cache_folder() -> Path:
    """Return the folder for saved results: `CANVAS_CACHE`, else the user's cache folder."""
    chosen = os.environ.get("CANVAS_CACHE")
    if chosen:
        return Path(chosen)
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "cockpit-canvas"


def flow_folder() -> Path:
    """Return the folder for saved runs of the air flow; it is there once one was run."""
    return cache_folder() / "flow"


def key_of(*parts: Any) -> str:
    """Return a sha256 key of arrays, numbers, text and nested sequences of them, in order.

    Raises
    ------
    TypeError
        When a part is of another type.
    """
    digest = hashlib.sha256()
    _feed(digest, parts)
    return digest.hexdigest()


def placed(points: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return coordinates to a micrometre, for what is to be the same on machines whose last bits differ."""
    return np.asarray(np.round(np.asarray(points, dtype=float), 6) + 0.0)  # + 0.0: no minus nought


def _feed(digest: Any, part: Any) -> None:
    if isinstance(part, np.ndarray):
        digest.update(f"array {part.dtype.str} {part.shape};".encode())
        digest.update(np.ascontiguousarray(part).tobytes())
    elif isinstance(part, np.generic):  # before `float`, which numpy's own is too
        _feed(digest, part.item())
    elif isinstance(part, str | int | float | bool | None):
        digest.update(f"{type(part).__name__} {part!r};".encode())
    elif isinstance(part, tuple | list):
        digest.update(f"sequence {len(part)};".encode())
        for inner in part:
            _feed(digest, inner)
    else:
        raise TypeError(f"no key for {type(part).__name__}")


def save(folder: Path, key: str, arrays: Mapping[str, Any]) -> Path:
    """Write arrays under a key, whole or not at all.

    Parameters
    ----------
    folder : Path
    key : str
        Name of the file without its ending.
    arrays : mapping of str to array_like

    Raises
    ------
    CouldNot
        When the folder cannot be written.
    """
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=QUICK) as archive:  # numpy's own takes 6
        for name, value in arrays.items():
            with archive.open(f"{name}.npy", "w", force_zip64=True) as entry:
                np.lib.format.write_array(entry, np.asarray(value), allow_pickle=False)
    return write_whole(folder / f"{key}.npz", stream.getvalue())


def load(folder: Path, key: str) -> dict[str, Any] | None:
    """Return the arrays saved under a key, or None where there are none."""
    path = folder / f"{key}.npz"
    try:
        stream = io.BytesIO(path.read_bytes())
        with np.load(stream, allow_pickle=False) as held:
            return {name: held[name] for name in held.files}
    except Exception:  # noqa: BLE001 - a spoilt archive fails in any way there is, and only costs the work once more
        return None
