"""Draw coded targets and find them in photographs: the one door to OpenCV.

Computes: the black squares of each target; the corners of all targets in a photograph; how sharp it is.
Units: pixels, from the middle of the first one, right and down; target sizes as a share of their black square.
Source: AprilTag 36h11, an open family of 587 coded squares (E. Olson, ICRA 2011, 3400), as OpenCV finds them.
Limits: JPEG, PNG, TIFF and WebP up to 100 million pixels. Photographs are read here and go nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.ndimage import map_coordinates

from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Bools, Floats, Ints, locked
from canvas.jobs.failure import CouldNot

COUNT = 587  # targets in the family
MODULES = 8  # across the black square, its border included
SPOTS, STEPS = 16, 25  # along a side; across it
QUIET = 1.5  # modules of white that must stay round it
MOST_PIXELS = 100_000_000
MOST_BYTES = 200_000_000
MOST_HEAD = 1_000_000  # bytes before a JPEG's size is told: previews and notes of the camera
ENDINGS = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp")
BLURRED = 8.0  # grey levels that neighbouring pixels differ at the sharpest edges; below it a picture is blurred


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """The targets seen in one photograph.

    Attributes
    ----------
    file : str
    width, height : int
        [px]
    numbers : (n,) ndarray of int
    corners : (n, 4, 2) ndarray
        Of each black square as printed: upper left, upper right, lower right, lower left [px].
    sharpness : float
        Grey levels between pixels at the sharpest edges.
    """

    file: str
    width: int
    height: int
    numbers: Ints
    corners: Floats
    sharpness: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "numbers", locked(self.numbers, dtype=np.int64))
        object.__setattr__(self, "corners", locked(self.corners))


def pattern(number: int) -> Bools:
    """Return a target's squares, (8, 8), True where black, first row on top.

    Raises
    ------
    CouldNot
        When OpenCV is not there.
    """
    cv2 = _cv2()
    image = cv2.aruco.generateImageMarker(_family(cv2), int(number), MODULES, borderBits=1)
    black: Bools = np.asarray(image) < 128
    return black


def look(path: Path) -> Seen:
    """Return the targets in a photograph.

    Raises
    ------
    DesignError
        When it is no photograph that can be read.
    CouldNot
        When OpenCV is not there.
    """
    return look_at(_grey(path), file=str(path))


def look_at(image: Any, *, file: str) -> Seen:
    """Return the targets in a picture of grey levels, (height, width) of bytes; `file` names it."""
    cv2 = _cv2()
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.cornerRefinementWinSize = 5
    settings.relativeCornerRefinmentWinSize = 0.4
    settings.adaptiveThreshWinSizeMax = 53
    settings.minMarkerPerimeterRate = 0.01
    corners, numbers, _ = cv2.aruco.ArucoDetector(_family(cv2), settings).detectMarkers(image)
    found = np.zeros((0, 4, 2)) if numbers is None else np.array(corners, dtype=np.float64).reshape(-1, 4, 2)
    listed = np.zeros(0, dtype=np.int64) if numbers is None else np.asarray(numbers).ravel().astype(np.int64)
    once = np.array([k for k, one in enumerate(listed) if (listed == one).sum() == 1], dtype=np.int64)
    height, width = image.shape[:2]
    return Seen(
        file=file,
        width=width,
        height=height,
        numbers=listed[once],
        corners=by_sides(image, by_sides(image, found[once])),
        sharpness=_sharpness(image),
    )


def by_sides(image: Any, corners: Floats) -> Floats:
    """Return corners of black squares where lines through their four sides meet, (n, 4, 2) [px].

    A corner itself is found too far inside by a share of the blur; a side is not. Each side is where the grey changes
    most, across it, at spots along its middle.

    Parameters
    ----------
    image : (height, width) ndarray
        Grey levels.
    corners : (n, 4, 2) ndarray
        To begin from [px].
    """
    if not len(corners):
        return corners
    grey = np.asarray(image, dtype=np.float32)
    run = np.roll(corners, -1, axis=1) - corners
    length = np.linalg.norm(run, axis=2, keepdims=True)
    along = run / np.maximum(length, 1e-9)
    across = np.stack([along[..., 1], -along[..., 0]], axis=-1)  # outward, corners running clockwise on the screen
    reach = np.clip(0.45 * length / MODULES, 1.5, 4.0)
    share = np.linspace(0.12, 0.88, SPOTS)
    steps = np.linspace(-1.0, 1.0, STEPS) * reach[..., 0, None]
    spots = corners[:, :, None] + share[:, None] * run[:, :, None]
    profile = spots[:, :, :, None] + steps[:, :, None, :, None] * across[:, :, None, None]
    value = map_coordinates(grey, [profile[..., 1], profile[..., 0]], order=1, mode="nearest")
    slope = np.clip(np.diff(value, axis=-1), 0.0, None)  # from black to white, outward
    middle = 0.5 * (steps[..., 1:] + steps[..., :-1])[:, :, None]
    total = slope.sum(axis=-1)
    off = np.where(total > 1.0, (slope * middle).sum(axis=-1) / np.maximum(total, 1e-6), 0.0)
    line = _lines(share, off)
    first = corners + line[..., :1] * across
    last = corners + run + (line[..., :1] + line[..., 1:]) * across
    return _meets(np.roll(first, 1, axis=1), np.roll(last, 1, axis=1), first, last, corners)


def _lines(share: Floats, off: Floats) -> Floats:
    """Return each side's shift at its start and its growth to its end, spots far off the others left out, (n, 4, 2)."""
    weight = np.ones_like(off)
    line = np.zeros((*off.shape[:2], 2))
    for _ in range(4):
        total, x = weight.sum(axis=-1), (weight * share).sum(axis=-1)
        xx, y, xy = (weight * share**2).sum(axis=-1), (weight * off).sum(axis=-1), (weight * share * off).sum(axis=-1)
        det = np.maximum(total * xx - x**2, 1e-9)
        line = np.stack([(xx * y - x * xy) / det, (total * xy - x * y) / det], axis=-1)
        rest = np.abs(off - line[..., :1] - line[..., 1:] * share)
        weight = 1 / (1 + (rest / np.maximum(np.median(rest, axis=-1, keepdims=True), 0.02) / 2.5) ** 2)
    return line


def _meets(a: Floats, b: Floats, c: Floats, d: Floats, otherwise: Floats) -> Floats:
    """Return where lines a-b and c-d meet; `otherwise` where that is far from it."""
    u, v = b - a, d - c
    det = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    w = c - a
    t = (w[..., 0] * v[..., 1] - w[..., 1] * v[..., 0]) / np.where(np.abs(det) < 1e-9, 1e-9, det)
    meets = a + t[..., None] * u
    far = np.linalg.norm(meets - otherwise, axis=-1, keepdims=True) > 4.0
    return np.where(far, otherwise, meets)


def square_poses(corners: Floats, *, size: float, focal: float, middle: Floats) -> list[tuple[Floats, Floats]]:
    """Return both ways in which a square may lie before a camera: rotation and place of its middle.

    Parameters
    ----------
    corners : (4, 2) ndarray
        As in `Seen` [px].
    size : float
        Of the square [m].
    focal : float
        [px]
    middle : (2,) ndarray
        Of the picture [px].
    """
    cv2 = _cv2()
    half = size / 2
    square = np.array([[-half, half, 0], [half, half, 0], [half, -half, 0], [-half, -half, 0]])
    matrix = np.array([[focal, 0, middle[0]], [0, focal, middle[1]], [0, 0, 1.0]])
    found = cv2.solvePnPGeneric(square, corners, matrix, None, flags=cv2.SOLVEPNP_IPPE_SQUARE)
    return [
        (np.asarray(cv2.Rodrigues(turn)[0], dtype=np.float64), np.asarray(place, dtype=np.float64).ravel())
        for turn, place in zip(found[1], found[2], strict=True)
    ]


def camera_pose(points: Floats, spots: Floats, *, focal: float, middle: Floats) -> tuple[Floats, Floats] | None:
    """Return rotation and shift of a camera that sees known points at known spots, None where none fits.

    Parameters
    ----------
    points : (n, 3) ndarray
        [m]
    spots : (n, 2) ndarray
        [px]
    focal : float
        [px]
    middle : (2,) ndarray
        [px]
    """
    cv2 = _cv2()
    matrix = np.array([[focal, 0, middle[0]], [0, focal, middle[1]], [0, 0, 1.0]])
    cv2.setRNGSeed(1)
    done, turn, shift, inliers = cv2.solvePnPRansac(
        points, spots, matrix, None, iterationsCount=300, reprojectionError=12.0, flags=cv2.SOLVEPNP_SQPNP
    )
    if not done or inliers is None or len(inliers) < 6:
        return None
    return np.asarray(cv2.Rodrigues(turn)[0], dtype=np.float64), np.asarray(shift, dtype=np.float64).ravel()


def _cv2() -> Any:
    try:
        import cv2
    except ImportError as error:
        raise CouldNot(
            "Photographs need OpenCV, which is not installed.", 'Install it: pip install "cockpit-canvas-aid[photo]".'
        ) from error
    return cv2


def _family(cv2: Any) -> Any:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)


def _grey(path: Path) -> Any:
    cv2 = _cv2()

    def wrong(code: str, found: str, wanted: str) -> DesignError:
        return DesignError([Problem(code=code, file=str(path), found=found, wanted=wanted)])

    if not path.is_file():
        raise wrong("photo-missing", "no such file", "Name photographs, or a folder of them.")
    if path.stat().st_size > MOST_BYTES:
        raise wrong("photo-too-large", f"{path.stat().st_size / 1e6:.0f} MB", f"At most {MOST_BYTES / 1e6:.0f} MB.")
    raw = np.frombuffer(path.read_bytes(), dtype=np.uint8)
    if raw[4:12].tobytes() in (b"ftypheic", b"ftypmif1", b"ftypheix"):
        raise wrong("photo-type", "a HEIC picture", "Set the phone to JPEG (most compatible), or convert it.")
    promised = _promised(raw[:MOST_HEAD].tobytes())
    if promised > MOST_PIXELS:
        found = f"a header that promises {promised / 1e6:.0f} million pixels"
        raise wrong("photo-too-large", found, "At most 100 million; nothing was made room for.")
    try:
        image = cv2.imdecode(raw, cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION) if len(raw) else None
    except cv2.error:  # a header that promises more pixels than may be
        image = None
    if image is None:
        raise wrong("photo-unreadable", "a file that is no picture", "Name JPEG or PNG photographs.")
    if image.size > MOST_PIXELS:
        raise wrong("photo-too-large", f"{image.size / 1e6:.0f} million pixels", "At most 100 million.")
    return image


def _promised(head: bytes) -> int:
    """Return how many pixels the header of a PNG or JPEG picture promises, 0 where it says nothing."""
    if head.startswith(b"\x89PNG") and len(head) >= 24:
        return int.from_bytes(head[16:20], "big") * int.from_bytes(head[20:24], "big")
    at = 2
    while head.startswith(b"\xff\xd8") and at + 9 <= len(head) and head[at] == 0xFF:
        if 0xC0 <= head[at + 1] <= 0xCF and head[at + 1] not in (0xC4, 0xC8, 0xCC):  # start of frame
            return int.from_bytes(head[at + 5 : at + 7], "big") * int.from_bytes(head[at + 7 : at + 9], "big")
        at += 2 + int.from_bytes(head[at + 2 : at + 4], "big")
    return 0


def _sharpness(image: Any) -> float:
    """Return how much neighbouring pixels differ at the sharpest one edge in two hundred [grey levels]."""
    part = np.asarray(image[::1, :: max(1, image.shape[1] // 2000)], dtype=np.float32)
    if part.shape[0] < 3:
        return 0.0
    smooth = (part[:-2] + part[1:-1] + part[2:]) / 3
    return float(np.quantile(np.abs(np.diff(smooth, axis=0)), 0.995))
