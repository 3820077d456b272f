"""The laminar flow over a thin fence in a channel by OpenFOAM, to set beside the lattice's in the same domain.

Run: python -m tests.benchmarks.flow.openfoam --out FOLDER [--cells 24]
Needs Debian's `openfoam` (blockMesh, simpleFoam). Fence of three quarters of the channel, Re 82.5 on its height and the
mean speed; a parabola 8 fence heights ahead, the outlet 15 behind; lengths in channel heights, mean speed 1.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np

TALL, AHEAD, BEHIND, REYNOLDS = 0.75, 6.0, 11.25, 82.5
HEAD = "FoamFile {{ version 2.0; format ascii; class {kind}; object {name}; }}\n"
SCHEMES = """
ddtSchemes { default steadyState; }
gradSchemes { default Gauss linear; }
divSchemes { default none; div(phi,U) Gauss linearUpwind grad(U); div((nuEff*dev2(T(grad(U))))) Gauss linear; }
laplacianSchemes { default Gauss linear corrected; }
interpolationSchemes { default linear; }
snGradSchemes { default corrected; }
"""
SOLUTION = """
solvers
{
    p { solver GAMG; smoother GaussSeidel; tolerance 1e-9; relTol 0.05; }
    U { solver smoothSolver; smoother symGaussSeidel; tolerance 1e-10; relTol 0.1; }
}
SIMPLE { consistent yes; nNonOrthogonalCorrectors 0; residualControl { p 1e-6; U 1e-7; } }
relaxationFactors { equations { U 0.9; } }
"""
CONTROL = """
application simpleFoam; startFrom startTime; startTime 0; stopAt endTime; endTime 3000; deltaT 1;
writeControl timeStep; writeInterval 3000; purgeWrite 1; writeFormat ascii; writePrecision 8; timeFormat general;
"""


def available() -> bool:
    """Return whether OpenFOAM's programs are installed."""
    return all(shutil.which(name) for name in ("blockMesh", "simpleFoam"))


def parts(cells: int) -> list[tuple[float, float, float, float, int, int]]:
    """Return the four blocks: x and y from and to, cells along x and y."""
    low, high = round(TALL * cells), cells - round(TALL * cells)
    ahead, behind = round(AHEAD * cells), round(BEHIND * cells)
    return [
        (-AHEAD, 0.0, 0.0, TALL, ahead, low), (0.0, BEHIND, 0.0, TALL, behind, low),
        (-AHEAD, 0.0, TALL, 1.0, ahead, high), (0.0, BEHIND, TALL, 1.0, behind, high),
    ]  # fmt: skip


def mesh(cells: int) -> str:
    """Return the dictionary of blockMesh; the lower blocks share no corner on the fence but its top."""
    spots = [
        (-AHEAD, 0.0), (0.0, 0.0), (0.0, 0.0), (BEHIND, 0.0),
        (-AHEAD, TALL), (0.0, TALL), (BEHIND, TALL), (-AHEAD, 1.0), (0.0, 1.0), (BEHIND, 1.0),
    ]  # fmt: skip
    count = len(spots)
    vertices = " ".join(f"({x} {y} {z})" for z in (0.0, 0.1) for x, y in spots)
    corners = [(0, 1, 5, 4), (2, 3, 6, 5), (4, 5, 8, 7), (5, 6, 9, 8)]
    blocks = " ".join(
        f"hex ({' '.join(map(str, (*four, *(c + count for c in four))))}) ({nx} {ny} 1) simpleGrading (1 1 1)"
        for four, (*_, nx, ny) in zip(corners, parts(cells), strict=True)
    )

    def face(a: int, b: int) -> str:
        return f"({a} {b} {b + count} {a + count})"

    sides = {
        "inletLow": [(0, 4)], "inletHigh": [(4, 7)], "outlet": [(3, 6), (6, 9)],
        "walls": [(0, 1), (2, 3), (7, 8), (8, 9), (1, 5), (2, 5)],
    }  # fmt: skip
    kinds = {"walls": "wall"}
    boundary = " ".join(
        f"{name} {{ type {kinds.get(name, 'patch')}; faces ({' '.join(face(*pair) for pair in pairs)}); }}"
        for name, pairs in sides.items()
    )
    return (
        HEAD.format(kind="dictionary", name="blockMeshDict")
        + f"convertToMeters 1; vertices ({vertices}); blocks ({blocks}); edges (); boundary ({boundary}); "
        + "mergePatchPairs (); defaultPatch { name sides; type empty; }\n"
    )


def speeds(cells: int) -> str:
    """Return the file of U: a parabola at the inlet, face by face."""

    def patch(low: float, count: int) -> str:
        y = low + (np.arange(count) + 0.5) / cells
        rows = " ".join(f"({6.0 * v * (1.0 - v):.8f} 0 0)" for v in y)
        return f"{{ type fixedValue; value nonuniform List<vector> {count} ({rows}); }}"

    low = round(TALL * cells)
    return (
        HEAD.format(kind="volVectorField", name="U")
        + "dimensions [0 1 -1 0 0 0 0]; internalField uniform (1 0 0); boundaryField { "
        + f"inletLow {patch(0.0, low)} inletHigh {patch(TALL, cells - low)} "
        + "outlet { type zeroGradient; } walls { type noSlip; } sides { type empty; } }\n"
    )


def write(folder: Path, cells: int) -> None:
    """Write the case."""
    for name in ("0", "constant", "system"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    pressure = "{ type zeroGradient; }"
    files = {
        "0/U": speeds(cells),
        "0/p": HEAD.format(kind="volScalarField", name="p")
        + "dimensions [0 2 -2 0 0 0 0]; internalField uniform 0; boundaryField { "
        + f"inletLow {pressure} inletHigh {pressure} walls {pressure} "
        + "outlet { type fixedValue; value uniform 0; } sides { type empty; } }\n",
        "constant/transportProperties": HEAD.format(kind="dictionary", name="transportProperties")
        + f"transportModel Newtonian; nu [0 2 -1 0 0 0 0] {TALL / REYNOLDS:.10f};\n",
        "constant/turbulenceProperties": HEAD.format(kind="dictionary", name="turbulenceProperties")
        + "simulationType laminar;\n",
        "system/blockMeshDict": mesh(cells),
        "system/fvSchemes": HEAD.format(kind="dictionary", name="fvSchemes") + SCHEMES,
        "system/fvSolution": HEAD.format(kind="dictionary", name="fvSolution") + SOLUTION,
        "system/controlDict": HEAD.format(kind="dictionary", name="controlDict") + CONTROL,
    }
    for name, text in files.items():
        (folder / name).write_text(text, encoding="ascii")


def solve(folder: Path, cells: int) -> tuple[np.ndarray, np.ndarray]:
    """Run the case and return cell centres (n, 2) and velocities (n, 2)."""
    write(folder, cells)
    env = {**os.environ, "WM_PROJECT_DIR": "/usr/share/openfoam"}
    for program in ("blockMesh", "simpleFoam"):
        with (folder / f"{program}.log").open("w") as log:
            subprocess.run([program], cwd=folder, env=env, stdout=log, stderr=log, check=True)
    last = max((int(p.name) for p in folder.iterdir() if p.name.isdigit() and p.name != "0"), default=0)
    text = (folder / str(last) / "U").read_text(encoding="ascii")
    inside = text.split("internalField", 1)[1].split("boundaryField", 1)[0]
    rows = re.findall(r"\(([-\d.e+]+) ([-\d.e+]+) [-\d.e+]+\)", inside)
    centres = []
    for x0, x1, y0, y1, nx, ny in parts(cells):
        x, y = (lo + (np.arange(n) + 0.5) * (hi - lo) / n for lo, hi, n in ((x0, x1, nx), (y0, y1, ny)))
        centres.append(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2))
    return np.concatenate(centres), np.array(rows, dtype=float)


def on_grid(centres: np.ndarray, values: np.ndarray, cells: int) -> np.ndarray:
    """Return the along-channel velocity as rows of height, columns of x."""
    field = np.zeros((cells, round((AHEAD + BEHIND) * cells)))
    i = np.floor((centres[:, 0] + AHEAD) * cells).astype(int)
    j = np.floor(centres[:, 1] * cells).astype(int)
    field[j, i] = values[:, 0]
    return field


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", required=True)
    parser.add_argument("--cells", type=int, default=24)
    wanted = parser.parse_args()
    field = on_grid(*solve(Path(wanted.out), wanted.cells), wanted.cells)
    np.save(Path(wanted.out) / "u.npy", field)
    from tests.benchmarks.flow.laminar import crossings

    start = round(AHEAD * wanted.cells)
    up, _ = crossings(field[0, start:])
    closed, opened = crossings(field[-1])
    height = TALL * wanted.cells
    print("reattachment", (up[-1] + 0.5) / height)
    print("roof", [(x + 0.5 - start) / height for x in (*opened, *closed)])


if __name__ == "__main__":
    main()
