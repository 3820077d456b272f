"""Draw TOML texts in every form that TOML has, for the tests that read and rewrite them."""

from hypothesis import strategies as st

KEYS = st.one_of(
    st.text("abcXYZ019_-", min_size=1, max_size=6),
    st.sampled_from(
        ["", "two words", "a.b", 'quo"te', "hash # no comment", "[x]", "=", "ünï", "'", "back\\slash", "a\tb"]
    ),
)
FILLINGS = ("", "x", "# not a comment", "]", "}", ",", "'", "[[no]]", "= 3", "\\\\", '\\"', "\\u00e9")


class Writer:
    """Writes data as TOML in forms that hypothesis draws, each plain value with a number of its own."""

    def __init__(self, draw):
        self.draw = draw
        self.count = 0
        self.parts = []

    def pick(self, choices):
        return self.draw(st.sampled_from(choices))

    def gap(self):
        return self.pick(["", "", "\n", '# a comment with ] and " and = 1\n', "\n\n", "   # [not.a.table]\n"])

    def key(self, key):
        if (
            key
            and all(letter.isascii() and (letter.isalnum() or letter in "_-") for letter in key)
            and self.pick([1, 0])
        ):
            return key
        if "'" not in key and self.pick([1, 0]):
            return f"'{key}'"
        return '"' + key.replace("\\", "\\\\").replace('"', '\\"').replace("\t", "\\t") + '"'

    def scalar(self):
        self.count += 1
        token = f"value{self.count}."
        form = self.pick(["basic", "literal", "multi", "literal multi", "number", "date", "bool"])
        filling = self.pick(FILLINGS)
        if form == "basic":
            return f'"{token}{filling}"' if filling != '"' else f'"{token}"'
        if form == "literal":
            return f"'{token}{filling.replace(chr(39), '')}'"
        if form == "multi":
            return f'"""{token}\n{filling}\n # text\n[[x]]"" end"""'
        if form == "literal multi":
            return f"'''{token}\n{filling.replace(chr(39), '')}\n'' end'''"
        if form == "number":
            return f"{self.pick(['1', '-2.5', '0x1f', '1_000', 'inf', '1e5'])}"
        return "1979-05-27 07:32:00Z" if form == "date" else "true"

    def value(self, depth, *, inline=False):
        kind = self.pick(["scalar", "scalar", "list", "table"]) if depth < 3 else "scalar"
        if kind == "scalar":
            return self.scalar()
        if kind == "table":
            keys = self.draw(st.lists(KEYS, max_size=3, unique=True))
            return "{ " + ", ".join(f"{self.key(key)} = {self.value(depth + 1, inline=True)}" for key in keys) + " }"
        elements = [self.value(depth + 1, inline=inline) for _ in range(self.draw(st.integers(0, 3)))]
        if inline:
            return "[" + ", ".join(elements) + (", " if elements and self.pick([0, 1]) else "") + "]"
        return "[" + "".join(self.gap() + element + " ,\n" for element in elements) + self.gap() + "]"

    def pairs(self, keys):
        for key in keys:
            if self.pick([0, 0, 1]):
                dotted = f"{self.key(key)} . {self.key(self.draw(KEYS))}"
                self.parts.append(f"{self.gap()}{dotted} = {self.value(1)}\n")
            else:
                self.parts.append(f"{self.gap()}  {self.key(key)}={self.value(0)}  # said\n")

    def document(self):
        names = self.draw(st.lists(KEYS, min_size=1, max_size=8, unique=True))
        cut = self.draw(st.integers(0, len(names)))
        self.pairs(names[:cut])
        for name in names[cut:]:
            if self.pick([0, 1]):
                self.table(name)
            else:
                for _ in range(self.draw(st.integers(1, 3))):
                    self.parts.append(f"{self.gap()}[[ {self.key(name)} ]]\n")
                    self.pairs(self.draw(st.lists(KEYS, max_size=2, unique=True)))
                    if self.pick([0, 1]):
                        self.parts.append(f"[[{self.key(name)}.inner-list]]\n")
                        self.pairs(["z"])
                        self.parts.append(f"[{self.key(name)}.inner-list.inner-table]\n")
                        self.pairs(["y"])
        return "".join(self.parts)

    def table(self, name):
        self.parts.append(f"{self.gap()}[{self.key(name)}]\n")
        self.pairs(self.draw(st.lists(KEYS, max_size=3, unique=True)))


@st.composite
def documents(draw):
    text = Writer(draw).document()
    return text.replace("\n", "\r\n") if draw(st.booleans()) else text


def paths_of(data, path=()):
    """Yield every path of the data, with the value there."""
    yield path, data
    if isinstance(data, dict):
        for key, value in data.items():
            yield from paths_of(value, (*path, key))
    if isinstance(data, list):
        for index, value in enumerate(data):
            yield from paths_of(value, (*path, index))
