"""Write the dictionaries of an OpenFOAM case.

Computes: nothing; text from numbers.
Units: metres, seconds, kinematic pressure.
Source: OpenFOAM user guide, version v1912, as Debian ships it; k-omega SST after F. R. Menter (1994).
Limits: steady flow; the sea is a flat face without friction, so that the wind's profile reaches the boat as it came in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from canvas.geometry.surface import Floats

HEAD = """FoamFile
{{
    version 2.0;
    format ascii;
    class {kind};
    object {name};
}}

"""
AIR_VISCOSITY = 1.5e-5  # [m2/s]
TURBULENCE = 0.10  # rms of the wind over its mean near the sea; common practice, no source
EDDY = 1.0  # [m] size of the eddies in it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Boxes:
    """The domain and where its cells are halved.

    Attributes
    ----------
    low, high : (3,) ndarray
        Of the domain [m].
    base : float
        Its cells [m].
    fine, boat, wake : (2, 3) ndarray
        Corners of the boxes of the finest level, the next and the one after [m].
    level : int
        How often cells are halved at most.
    """

    low: Floats
    high: Floats
    base: float
    fine: Floats
    boat: Floats
    wake: Floats
    level: int


def _vector(values: Sequence[float] | Floats) -> str:
    return "(" + " ".join(f"{float(value):.6g}" for value in values) + ")"


def block_mesh(boxes: Boxes) -> str:
    """Return blockMeshDict: one box of even cells."""
    low, high = boxes.low, boxes.high
    corners = [
        (low[0], low[1], low[2]), (high[0], low[1], low[2]), (high[0], high[1], low[2]), (low[0], high[1], low[2]),
        (low[0], low[1], high[2]), (high[0], low[1], high[2]), (high[0], high[1], high[2]), (low[0], high[1], high[2]),
    ]  # fmt: skip
    cells = [max(1, round(float(side) / boxes.base)) for side in high - low]
    faces = {
        "inlet": ("patch", "0 4 7 3"), "outlet": ("patch", "1 2 6 5"), "left": ("patch", "0 1 5 4"),
        "right": ("patch", "3 7 6 2"), "water": ("patch", "0 3 2 1"), "top": ("patch", "4 5 6 7"),
    }  # fmt: skip
    boundary = "\n".join(f"    {name} {{ type {kind}; faces (({spots})); }}" for name, (kind, spots) in faces.items())
    return (
        HEAD.format(kind="dictionary", name="blockMeshDict")
        + "scale 1;\nvertices\n(\n" + "\n".join(f"    {_vector(corner)}" for corner in corners) + "\n);\n"
        + f"blocks (hex (0 1 2 3 4 5 6 7) ({cells[0]} {cells[1]} {cells[2]}) simpleGrading (1 1 1));\n"
        + f"edges ();\nboundary\n(\n{boundary}\n);\nmergePatchPairs ();\n"
    )  # fmt: skip


SNAPPY_REST = """snapControls
{
    nSmoothPatch 3;
    tolerance 2.0;
    nSolveIter 30;
    nRelaxIter 5;
}
addLayersControls
{
    relativeSizes true;
    layers {}
    expansionRatio 1.2;
    finalLayerThickness 0.3;
    minThickness 0.1;
    nGrow 0;
    featureAngle 60;
    nRelaxIter 3;
    nSmoothSurfaceNormals 1;
    nSmoothNormals 3;
    nSmoothThickness 10;
    maxFaceThicknessRatio 0.5;
    maxThicknessToMedialRatio 0.3;
    minMedianAxisAngle 90;
    nBufferCellsNoExtrude 0;
    nLayerIter 50;
}
meshQualityControls
{
    maxNonOrtho 65;
    maxBoundarySkewness 20;
    maxInternalSkewness 4;
    maxConcave 80;
    minVol 1e-13;
    minTetQuality 1e-15;
    minArea -1;
    minTwist 0.02;
    minDeterminant 0.001;
    minFaceWeight 0.05;
    minVolRatio 0.01;
    minTriangleTwist -1;
    nSmoothScale 4;
    errorReduction 0.75;
}
mergeTolerance 1e-6;
"""


def snappy(boxes: Boxes, *, solids: Sequence[str], sheets: Sequence[str], inside: Floats) -> str:
    """Return snappyHexMeshDict: solids cut out, sheets as baffles between cells.

    Parameters
    ----------
    boxes : Boxes
    solids, sheets : sequence of str
        Names of STL files without their ending.
    inside : (3,) ndarray
        A point in the air [m].
    """
    geometry = [f"    {name}.stl {{ type triSurfaceMesh; name {name}; }}" for name in (*solids, *sheets)]
    regions = []
    for name, box, level in (
        ("fineBox", boxes.fine, boxes.level),
        ("boatBox", boxes.boat, boxes.level - 1),
        ("wakeBox", boxes.wake, boxes.level - 2),
    ):  # fmt: skip
        geometry.append(f"    {name} {{ type searchableBox; min {_vector(box[0])}; max {_vector(box[1])}; }}")
        regions.append(f"        {name} {{ mode inside; levels ((1e15 {max(level, 0)})); }}")
    level = boxes.level
    surfaces = [f"        {name} {{ level ({level} {level}); patchInfo {{ type wall; }} }}" for name in solids]
    surfaces += [
        f"        {name} {{ level ({level} {level}); faceZone {name}; faceType baffle; patchInfo {{ type wall; }} }}"
        for name in sheets
    ]
    parts = {"geometry": geometry, "surfaces": surfaces, "regions": regions}
    text = {name: "\n".join(lines) for name, lines in parts.items()}
    return (
        HEAD.format(kind="dictionary", name="snappyHexMeshDict")
        + f"""castellatedMesh true;
snap true;
addLayers false;
geometry
{{
{text["geometry"]}
}}
castellatedMeshControls
{{
    maxLocalCells 4000000;
    maxGlobalCells 40000000;
    minRefinementCells 10;
    nCellsBetweenLevels 3;
    resolveFeatureAngle 30;
    features ();
    refinementSurfaces
    {{
{text["surfaces"]}
    }}
    refinementRegions
    {{
{text["regions"]}
    }}
    locationInMesh {_vector(inside)};
    allowFreeStandingZoneFaces true;
}}
"""
        + SNAPPY_REST
    )


def control(*, steps: int, probes: Floats) -> str:
    """Return controlDict: how many steps, and probes at points of the blade, (n, 3) [m]."""
    spots = "\n".join(f"            {_vector(spot)}" for spot in probes)
    return (
        HEAD.format(kind="dictionary", name="controlDict")
        + f"""application simpleFoam;
startFrom latestTime;
startTime 0;
stopAt endTime;
endTime {steps};
deltaT 1;
writeControl timeStep;
writeInterval {steps};
purgeWrite 2;
writeFormat binary;
writePrecision 8;
timeFormat general;
timePrecision 8;
runTimeModifiable true;
functions
{{
    blade
    {{
        type probes;
        libs (sampling);
        writeControl timeStep;
        writeInterval 1;
        fields (U);
        fixedLocations true;
        probeLocations
        (
{spots}
        );
    }}
}}
"""
    )


SCHEMES = (
    HEAD.format(kind="dictionary", name="fvSchemes")
    + """ddtSchemes { default steadyState; }
gradSchemes { default cellLimited Gauss linear 1; }
divSchemes
{
    default none;
    div(phi,U) bounded Gauss linearUpwind grad(U);
    div(phi,k) bounded Gauss upwind;
    div(phi,omega) bounded Gauss upwind;
    div((nuEff*dev2(T(grad(U))))) Gauss linear;
}
laplacianSchemes { default Gauss linear limited 0.5; }
interpolationSchemes { default linear; }
snGradSchemes { default limited 0.5; }
wallDist { method meshWave; }
"""
)
SOLUTION = (
    HEAD.format(kind="dictionary", name="fvSolution")
    + """solvers
{
    p { solver GAMG; smoother GaussSeidel; tolerance 1e-7; relTol 0.05; }
    "(U|k|omega)" { solver smoothSolver; smoother symGaussSeidel; tolerance 1e-8; relTol 0.1; }
}
SIMPLE { nNonOrthogonalCorrectors 1; consistent yes; pRefCell 0; pRefValue 0; }
relaxationFactors { fields { p 0.3; } equations { U 0.7; "(k|omega)" 0.6; } }
"""
)
TRANSPORT = HEAD.format(kind="dictionary", name="transportProperties") + (
    f"transportModel Newtonian;\nnu {AIR_VISCOSITY:g};\n"
)
MODEL = HEAD.format(kind="dictionary", name="turbulenceProperties") + (
    "simulationType RAS;\nRAS { RASModel kOmegaSST; turbulence on; printCoeffs off; }\n"
)
PARALLEL = HEAD.format(kind="dictionary", name="decomposeParDict") + "numberOfSubdomains 8;\nmethod scotch;\n"


def fields(*, heights: Floats, wind: Floats, speed: float, walls: Sequence[str]) -> dict[str, str]:
    """Return the starting fields by name.

    Parameters
    ----------
    heights : (k,) ndarray
        Above the water [m].
    wind : (k, 2) ndarray
        Along the wind and across it there [m/s].
    speed : float
        At the blade's height [m/s].
    walls : sequence of str
        Patches of solids and sheets.
    """
    table = " ".join(f"({height:.4g} ({u:.6g} {v:.6g} 0))" for height, (u, v) in zip(heights, wind, strict=True))
    k = 1.5 * (TURBULENCE * speed) ** 2
    omega = k**0.5 / (0.09**0.25 * EDDY)
    solid = '"(' + "|".join(f"{name}.*" for name in walls) + ')"'
    start = f"uniform ({speed:.6g} 0 0)"
    faces = '"(left|right|water|top)" { type slip; }'
    inlet = f"type fixedProfile; profile table ({table}); direction (0 0 1); origin 0;"
    out = "type inletOutlet; inletValue uniform {value}; value uniform {value};"
    listed = {
        "U": ("volVectorField", "[0 1 -1 0 0 0 0]", start, f"{inlet} value {start};",
              out.format(value="(0 0 0)"), "type noSlip;"),
        "p": ("volScalarField", "[0 2 -2 0 0 0 0]", "uniform 0", "type zeroGradient;",
              "type fixedValue; value uniform 0;", "type zeroGradient;"),
        "k": ("volScalarField", "[0 2 -2 0 0 0 0]", f"uniform {k:.6g}", f"type fixedValue; value uniform {k:.6g};",
              out.format(value=f"{k:.6g}"), f"type kqRWallFunction; value uniform {k:.6g};"),
        "omega": ("volScalarField", "[0 0 -1 0 0 0 0]", f"uniform {omega:.6g}",
                  f"type fixedValue; value uniform {omega:.6g};", out.format(value=f"{omega:.6g}"),
                  f"type omegaWallFunction; value uniform {omega:.6g};"),
        "nut": ("volScalarField", "[0 2 -1 0 0 0 0]", "uniform 0", "type calculated; value uniform 0;",
                "type calculated; value uniform 0;", "type nutkWallFunction; value uniform 0;"),
    }  # fmt: skip
    sides = {"nut": '"(left|right|water|top)" { type calculated; value uniform 0; }'}
    return {
        name: HEAD.format(kind=kind, name=name)
        + f"dimensions {units};\ninternalField {inner};\nboundaryField\n{{\n"
        + f"    inlet {{ {first} }}\n    outlet {{ {last} }}\n    {sides.get(name, faces)}\n"
        + f"    {solid} {{ {wall} }}\n}}\n"
        for name, (kind, units, inner, first, last, wall) in listed.items()
    }


RUN = """#!/bin/sh
# Mesh and run this case; give the number of processors, one where absent. OpenFOAM's commands must be on the path.
cd "$(dirname "$0")" || exit 1
if [ -z "$WM_PROJECT_DIR" ] && [ -d /usr/share/openfoam ]; then  # Debian's package sets nothing
    WM_PROJECT_DIR=/usr/share/openfoam
    export WM_PROJECT_DIR
fi
set -e
n=${1:-1}
blockMesh > log.blockMesh
snappyHexMesh -overwrite > log.snappyHexMesh
checkMesh > log.checkMesh || true
rm -rf 0
cp -r 0.orig 0
if [ "$n" -gt 1 ]; then
    foamDictionary -entry numberOfSubdomains -set "$n" system/decomposeParDict > /dev/null
    decomposePar -force > log.decomposePar
    mpirun -np "$n" simpleFoam -parallel > log.simpleFoam
else
    simpleFoam > log.simpleFoam
fi
"""
