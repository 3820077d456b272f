"""Make photographs of coded targets about a cockpit: poses, what an ideal camera sees, and rendered pictures."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np
from scipy.spatial.transform import Rotation

from canvas.asbuilt.camera import project, spots_of
from canvas.asbuilt.photographed import Stuck
from canvas.asbuilt.targets import Seen, pattern
from canvas.survey.datum import Datum
from canvas.survey.from_design import Survey
from canvas.survey.readings import Precision, Tape

SIZE = 0.08
CORNER = np.array([[-0.5, 0.5], [0.5, 0.5], [0.5, -0.5], [-0.5, -0.5]])


@dataclass(frozen=True)
class Set:
    """Targets, where they are, and photographs of them."""

    stuck: tuple[Stuck, ...]
    places: np.ndarray  # of marks [m]
    turns: np.ndarray  # of targets
    poses: np.ndarray
    shifts: np.ndarray
    camera: np.ndarray
    size: tuple[int, int]
    moved: dict  # target row: (photo from which it lies elsewhere, shift [m], turn)
    stretch: float


def made_set(places, *, seed, photos=24, width=1600, height=1200, moved=0, stretch=0.0) -> Set:
    """Return targets at marks, each facing the cockpit's middle more or less, and photographs from all round."""
    rng = np.random.default_rng(seed)
    middle = places.mean(axis=0)
    turns = []
    for place in places:
        out = middle + np.array([0, 0, 0.8]) + rng.normal(0, 0.4, 3) - place
        turns.append(_facing(out, rng.uniform(0, 2 * np.pi)))
    poses, shifts = [], []
    for k in range(photos):
        angle = 2 * np.pi * (k + rng.uniform(-0.2, 0.2)) / photos * 2
        far = rng.uniform(1.0, 2.6)
        eye = middle + np.array([far * np.cos(angle), 0.75 * far * np.sin(angle), rng.uniform(0.4, 1.6)])
        look = middle + rng.normal(0, 0.35, 3) - eye
        pose = _camera(look, rng.choice([0.0, np.pi / 2, -np.pi / 2], p=[0.5, 0.25, 0.25]) + rng.normal(0, 0.1))
        poses.append(pose)
        shifts.append(-pose @ eye)
    focal = rng.uniform(0.72, 0.85) * width
    camera = np.array([focal, (width - 1) / 2 + rng.normal(0, 6), (height - 1) / 2 + rng.normal(0, 6),
                       rng.uniform(-0.08, 0.10), rng.uniform(-0.03, 0.03), *rng.normal(0, 5e-4, 2)])  # fmt: skip
    stuck = tuple(Stuck(number=k + 1, mark=f"mark_{k + 1}", size=SIZE) for k in range(len(places)))
    made = Set(stuck=stuck, places=places, turns=np.array(turns), poses=np.array(poses), shifts=np.array(shifts),
               camera=camera, size=(width, height), moved={}, stretch=stretch)  # fmt: skip
    often = [
        row for row in rng.permutation(len(places))
        if sum(corners_in(made, p, row) is not None for p in range(photos // 3)) >= 2
        and sum(corners_in(made, p, row) is not None for p in range(2 * photos // 3, photos)) >= 2
    ]  # fmt: skip
    gone = {}
    for row in often[:moved]:
        shift = rng.normal(0, 1, 3)
        shift *= rng.uniform(0.012, 0.05) / np.linalg.norm(shift)
        gone[int(row)] = (
            int(rng.integers(photos // 3, 2 * photos // 3)),
            shift,
            Rotation.from_rotvec(rng.normal(0, 0.05, 3)),
        )
    return replace(made, moved=gone)


def _facing(normal, roll):
    z = normal / np.linalg.norm(normal)
    x = np.cross([0.0, 0.0, 1.0], z) if abs(z[2]) < 0.95 else np.array([1.0, 0.0, 0.0])
    x = x - z * (x @ z)
    x /= np.linalg.norm(x)
    return np.column_stack([x, np.cross(z, x), z]) @ Rotation.from_euler("z", roll).as_matrix()


def _camera(look, roll):
    z = look / np.linalg.norm(look)
    x = np.cross(z, [0.0, 0.0, 1.0])
    x /= np.linalg.norm(x)
    return Rotation.from_euler("z", roll).as_matrix() @ np.vstack([x, np.cross(z, x), z])


def pose_of(made, photo, row):
    place, turn = made.places[row], made.turns[row]
    if row in made.moved and photo >= made.moved[row][0]:
        place, turn = place + made.moved[row][1], made.moved[row][2].as_matrix() @ turn
    return place, turn


def corners_in(made, photo, row):
    """Return where a camera sees a target's corners, None where it does not see it well enough."""
    place, turn = pose_of(made, photo, row)
    points = np.c_[CORNER * SIZE * (1 + made.stretch), np.zeros(4)] @ turn.T + place
    before = points @ made.poses[photo].T + made.shifts[photo]
    eye = -made.poses[photo].T @ made.shifts[photo]
    away = eye - place
    if before[:, 2].min() < 0.3 or turn[:, 2] @ away / np.linalg.norm(away) < 0.35:
        return None
    spots = project(before, np.tile(made.camera, (4, 1))).spots
    width, height = made.size
    inside = (spots > 12).all() and (spots < [width - 12, height - 12]).all()
    return spots if inside and np.linalg.norm(np.diff(spots, axis=0), axis=1).min() > 18 else None


def ideal(made, *, noise, seed):
    """Return what detection would give, each coordinate with an error of `noise` pixels."""
    rng = np.random.default_rng(seed)
    seen = []
    for photo in range(len(made.poses)):
        rows, spots = [], []
        for row in range(len(made.places)):
            found = corners_in(made, photo, row)
            if found is not None:
                rows.append(made.stuck[row].number)
                spots.append(found + rng.normal(0, noise, (4, 2)))
        seen.append(Seen(file=f"{photo:02d}.jpg", width=made.size[0], height=made.size[1], numbers=np.array(rows),
                         corners=np.array(spots).reshape(-1, 4, 2), sharpness=50.0))  # fmt: skip
    return seen


def rendered(made, photo, *, blur=0.7, noise=3.0, seed=0):
    """Return a photograph, (height, width) of bytes: targets on a mottled ground, lens, blur, noise, JPEG."""
    rng = np.random.default_rng(1000 * seed + photo)
    width, height = made.size
    fine = 2
    image = cv2.resize(rng.uniform(70, 190, (height // 40, width // 40)).astype(np.float32), (width, height))
    image = cv2.resize(image, (width * fine, height * fine), interpolation=cv2.INTER_NEAREST)
    straight = made.camera.copy()
    straight[3:] = 0.0
    scale = np.array([[fine, 0, (fine - 1) / 2], [0, fine, (fine - 1) / 2], [0, 0, 1.0]])
    order = sorted(
        range(len(made.places)), key=lambda r: -np.linalg.norm(made.poses[photo] @ made.places[r] + made.shifts[photo])
    )
    for row in order:
        if corners_in(made, photo, row) is None:
            continue
        place, turn = pose_of(made, photo, row)
        side = 12 * 16  # pixels of the drawn target: 8 modules of 16, two of white on each side
        drawn = np.full((side, side), 235, np.uint8)
        black = np.kron(pattern(made.stuck[row].number), np.ones((16, 16)))
        drawn[32:-32, 32:-32] = np.where(black > 0, 25, 235)
        points = np.c_[CORNER * SIZE * (1 + made.stretch) * 1.5, np.zeros(4)] @ turn.T + place
        before = points @ made.poses[photo].T + made.shifts[photo]
        spots = project(before, np.tile(straight, (4, 1))).spots
        corners = np.array([[-0.5, -0.5], [side - 0.5, -0.5], [side - 0.5, side - 0.5], [-0.5, side - 0.5]], np.float32)
        matrix = scale @ cv2.getPerspectiveTransform(corners, spots.astype(np.float32))
        ends = cv2.perspectiveTransform(corners[None], matrix)[0]
        low = np.clip(np.floor(ends.min(axis=0)).astype(int) - 2, 0, None)
        high = np.minimum(np.ceil(ends.max(axis=0)).astype(int) + 3, [width * fine, height * fine])
        if (high <= low).any():
            continue
        here = np.array([[1, 0, -low[0]], [0, 1, -low[1]], [0, 0, 1.0]]) @ matrix
        size = tuple(int(n) for n in high - low)
        part = image[low[1] : high[1], low[0] : high[0]]
        mask = cv2.warpPerspective(np.ones((side, side), np.float32), here, size, flags=cv2.INTER_LINEAR)
        part[:] = part * (1 - mask) + cv2.warpPerspective(drawn.astype(np.float32), here, size) * mask
    image = cv2.resize(image, (width, height), interpolation=cv2.INTER_AREA)
    image = cv2.remap(
        image,
        *_bent(tuple(made.camera), tuple(straight), width, height),
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )
    image = cv2.GaussianBlur(image, (0, 0), blur) if blur else image
    image = np.clip(image + rng.normal(0, noise, image.shape), 0, 255).astype(np.uint8)
    return cv2.imdecode(cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 92])[1], cv2.IMREAD_GRAYSCALE)


@lru_cache(maxsize=2)
def _bent(camera, straight, width, height):
    """Return where each pixel of the bent picture lies in the straight one."""
    camera, straight = np.array(camera), np.array(straight)
    u, v = np.meshgrid(np.arange(width, dtype=float), np.arange(height, dtype=float))
    target = np.c_[u.ravel(), v.ravel()]
    rays = (target - camera[1:3]) / camera[0]
    for _ in range(8):
        spots = spots_of(np.c_[rays, np.ones(len(rays))], camera)
        rays = rays - (spots - target) / camera[0]
    back = rays * straight[0] + straight[1:3]
    return back[:, 0].reshape(u.shape).astype(np.float32), back[:, 1].reshape(u.shape).astype(np.float32)


def survey_for(made, *, tapes=0, held=(), rough_sd=0.02, seed=0, tape_sd=0.002):
    """Return what else is known: rough coordinates of some marks, or exact ones, and tape between far marks."""
    rng = np.random.default_rng(seed + 7)
    names = [one.mark for one in made.stuck]
    rough = {names[k]: tuple(made.places[k] + rng.normal(0, rough_sd, 3)) for k in range(len(names)) if k % 4 == 0}
    still = [k for k in range(len(names)) if k not in made.moved]
    pairs = sorted(
        ((np.linalg.norm(made.places[a] - made.places[b]), a, b) for a in still for b in still if a < b), reverse=True
    )
    entries, used = [], set()
    for far, a, b in pairs:
        if len(entries) < tapes and not {a, b} & used:
            entries.append(Tape(a=names[a], b=names[b], length=far + rng.normal(0, tape_sd), sigma=tape_sd))
            used |= {a, b}
    return Survey(
        entries=tuple(entries),
        datum=Datum(held={names[k]: tuple(made.places[k]) for k in held}, rough=rough), sessions=(),
        precision=Precision(),
    )  # fmt: skip


__all__ = ["Set", "corners_in", "ideal", "made_set", "rendered", "replace", "survey_for"]
