"""List what the base install brings, with versions and licences, as a software bill of materials.

Run: python -m tests.licences    (CycloneDX 1.6 as JSON on standard output)
"""

import json
import tomllib
from importlib.metadata import distribution
from pathlib import Path

from packaging.requirements import Requirement

PROJECT = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
BY_FILE = {"embreex": "BSD-2-Clause", "spyrrow": "MIT"}  # read in their licence files; their metadata does not say


def needed(name, found=None):
    """Return the licence of each distribution that the base install brings, by name."""
    found = {} if found is None else found
    key = name.lower().replace("_", "-")
    if key in found:
        return found
    one = distribution(name)
    told = one.metadata.get("License-Expression")
    classed = [
        line.split("::")[-1].strip() for line in one.metadata.get_all("Classifier") or [] if "License ::" in line
    ]
    found[key] = BY_FILE.get(key) or told or (classed[0] if classed else one.metadata.get("License") or "")
    for line in one.requires or []:
        wanted = Requirement(line)
        if wanted.marker is None or wanted.marker.evaluate({"extra": ""}):
            needed(wanted.name, found)
    return found


def bill():
    """Return the bill of materials of the base install."""
    brought = {name: licence for name, licence in sorted(needed(PROJECT["name"]).items()) if name != PROJECT["name"]}
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {"component": {"type": "application", "name": PROJECT["name"], "version": PROJECT["version"]}},
        "components": [
            {
                "type": "library", "name": name, "version": distribution(name).version,
                "purl": f"pkg:pypi/{name}@{distribution(name).version}", "licenses": [{"license": {"name": licence}}],
            }
            for name, licence in brought.items()
        ],
    }  # fmt: skip


if __name__ == "__main__":
    print(json.dumps(bill(), indent=1))
