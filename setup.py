"""Carry the example designs into the wheel, beside the module that copies them for `canvas new --like`."""

from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py

EXAMPLES = Path(__file__).parent / "examples"


class WithExamples(build_py):
    """Build as ever, then add the examples."""

    def run(self) -> None:
        """Build."""
        super().run()
        if not getattr(self, "editable_mode", False):
            target = Path(self.build_lib) / "canvas" / "design" / "guided" / "packed_examples"
            target.mkdir(parents=True, exist_ok=True)
            for path in sorted(EXAMPLES.glob("*.toml")):
                self.copy_file(str(path), str(target / path.name))


setup(cmdclass={"build_py": WithExamples})
