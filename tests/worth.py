"""Write the page on what each answer is worth from the published tables and the tests that read them.

Run: python -m tests.worth    (rewrites tests/published/README.md; a test holds the page to the tables)
"""

from pathlib import Path

from tests.conftest import PUBLISHED, read_table

TESTS = Path(__file__).parent
PAGE = PUBLISHED / "README.md"
TITLES = {
    "air": "Wind from deck to masthead", "asbuilt": "Photographs and scans", "cloth": "How cloth hangs",
    "cutting": "Flat parts", "fit": "Room for bodies", "flow": "Air flow", "sky": "Sun, shade and rain",
    "strength": "Loads and frames", "study": "Passages", "survey": "Marks from tape",
}  # fmt: skip
HEAD = """# What each answer is worth

Written by `python -m tests.worth` from the tables here and the tests that read them; do not edit it by hand.

Each table below was made outside this project: a standard, a handbook, a paper, a worked example, or another program. A
test compares the program with it, to the distance named; the same test must fail when the table is moved by ten such
distances either way. "Computed" tables come from formulas or from other libraries; "read" ones were read where the
address leads; "memory" ones still wait for someone to look them up.
"""


def readers(name):
    """Return the test files that name a table, whole or by its last part."""
    last = name.rpartition("/")[2]
    found = []
    for path in sorted(TESTS.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if name in text or f'"{last}"' in text:
            found.append(path.relative_to(TESTS).as_posix())
    return found


def page():
    """Return the page as Markdown."""
    parts = [HEAD]
    for folder in sorted(part.name for part in PUBLISHED.iterdir() if part.is_dir()):
        parts.append(f"## {TITLES[folder]}\n")
        for path in sorted((PUBLISHED / folder).glob("*.toml")):
            name = f"{folder}/{path.stem}"
            table = read_table(name)
            about = table.about
            held = ", ".join(_held(column, far) for column, far in about["checked"].items())
            source = about["source"] + (f", {about['url']}" if about.get("url") else "")
            where = ", ".join(f"`tests/{one}`" for one in readers(name))
            parts.append(
                f"**{about['title']}**: {len(table.rows)} rows. Held to: {held}. {_made(about)} "
                f"Source: {source}. Table `{name}`; read by {where}.\n"
            )
    return "\n".join(parts)


def _held(column, far):
    return f"{column.replace('_', ' ')} {far}" if isinstance(far, str) else f"{column.replace('_', ' ')} {far:g}"


def _made(about):
    how = about["how"].split(".")[0]
    return f"{how[:1].upper()}{how[1:]}{'' if about['independent'] else ', not independent of this project'}."


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
