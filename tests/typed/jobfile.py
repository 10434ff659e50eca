"""A job file as a tree, read with the tables of surveys/README.md, and two of them compared.

Shape: a record is a dict of its written fields, a list a list, everything else a `Leaf` that keeps how
it is written. Fields given in order get their names from the tables, so `("P1", (20, 47))` and
`(name: "P1", at: (20, 47))` are the same record. Comments and layout are gone.
"""

import re
from dataclasses import dataclass, field
from pathlib import Path


@dataclass
class Node:
    kind: str  # number, text, word, list, tuple, record
    raw: str
    value: object = None  # text: its letters
    name: str = ""  # of a tuple or record
    items: list = field(default_factory=list)  # of a list, tuple; of a record pairs


class Reader:
    def __init__(self, text):
        self.text, self.at = text, 0

    def blank(self):
        pattern = re.compile(r"\s+|//[^\n]*|/\*.*?\*/", re.S)
        while found := pattern.match(self.text, self.at):
            self.at = found.end()

    def take(self, what):
        self.blank()
        if self.text.startswith(what, self.at):
            self.at += len(what)
            return True
        return False

    def word(self):
        self.blank()
        found = re.compile(r"[A-Za-z_]\w*").match(self.text, self.at)
        if found:
            self.at = found.end()
            return found.group()
        return None

    def value(self):
        self.blank()
        start = self.at
        node = self.bare()
        node.raw = self.text[start : self.at]
        return node

    def bare(self):
        letter = self.text[self.at]
        if letter == '"':
            return Node("text", "", self.quoted())
        if letter == "[":
            self.at += 1
            items = []
            while not self.take("]"):
                items.append(self.value())
                self.take(",")
            return Node("list", "", items=items)
        if letter == "(":
            return self.brackets("")
        found = re.compile(r"[-+]?[\d.]+(?:[eE][-+]?\d+)?").match(self.text, self.at)
        if found:
            self.at = found.end()
            return Node("number", "", float(found.group()))
        name = self.word()
        if name is None:
            raise ValueError(f"what is this: {self.text[self.at : self.at + 40]!r}")
        self.blank()
        if self.text.startswith("(", self.at):
            return self.brackets(name)
        return Node("word", "", name)

    def brackets(self, name):
        self.at += 1
        pairs, items = [], []
        while not self.take(")"):
            start = self.at
            label = self.word()
            if label is not None and self.take(":"):
                pairs.append((label, self.value()))
            else:
                self.at = start
                items.append(self.value())
            self.take(",")
        if pairs and not items:
            return Node("record", "", name=name, items=pairs)
        return Node("tuple", "", name=name, items=items)

    def quoted(self):
        self.at += 1
        out = []
        while (letter := self.text[self.at]) != '"':
            self.at += 1
            if letter != "\\":
                out.append(letter)
                continue
            escape = self.text[self.at]
            self.at += 1
            if escape == "\n":
                while self.text[self.at].isspace():
                    self.at += 1
            elif escape == "u":
                end = self.text.index("}", self.at)
                out.append(chr(int(self.text[self.at + 1 : end], 16)))
                self.at = end + 1
            else:
                out.append({"n": "\n", "t": "\t", "r": "\r"}.get(escape, escape))
        self.at += 1
        return "".join(out)


def read(text):
    return Reader(text).value()


# ------------------------------------------------------------------------------------------ tables


@dataclass
class Field:
    name: str
    kind: str
    default: str

    @property
    def record(self):
        """The record that stands here, if one does."""
        return bare(self.kind)

    @property
    def item(self):
        """What a list holds, in words; None if this is no list."""
        found = re.match(r"list of (?:at least \d+: )?(.*)", self.kind)
        return found and found.group(1)

    @property
    def is_line(self):
        return self.record is None and self.item is None

    @property
    def widget(self):
        return widget(self.kind)


PLACES = {"place", "point", "`(x, y)`", "`(percent, point)`", "`(flow, head)`", "`(edge, batter)`"}


def bare(kind):
    """The record that a kind is, if it is one."""
    found = re.fullmatch(r"`([A-Z]\w+)`", kind)
    return found.group(1) if found and found.group(1) in TABLES else None


def widget(kind):
    """How the window has it filled in: tick, choice or line."""
    if kind == "`true` or `false`":
        return "tick"
    if re.fullmatch(r"`[A-Z]\w*`(?: or `[A-Z]\w*`)+", kind) or kind.startswith("name of a"):
        return "choice"
    return "line"


TABLES = {}


def read_tables(readme):
    name = None
    for line in Path(readme).read_text().splitlines():
        if heading := re.match(r"### (\w+)$", line):
            name = heading.group(1)
            TABLES[name] = []
        elif name and (row := re.match(r"\| `(\w+)` \| ", line)):
            # Kinds have no bar in them.
            kind, default = [part.strip() for part in line.split(" | ")[1:3]]
            TABLES[name].append(Field(row.group(1), kind, default))
    assert len(TABLES) > 40, "the tables of surveys/README.md"


# ------------------------------------------------------------------------------------------- trees


@dataclass
class Leaf:
    node: Node
    kind: str

    @property
    def typed(self):
        """As one types it into its cell."""
        return called(self.node, self.kind)

    @property
    def same(self):
        """What is compared: figures by what they are, not by how they are written."""
        return worth(self.node)


def called(node, kind):
    if node.kind == "text":
        return node.value
    if kind not in PLACES or node.kind != "tuple" or node.name not in ("", "Offset", "Tie", "Ray"):
        return node.raw
    parts = []
    for item in node.items:
        words = called(item, kind)
        if item.kind == "text" and words.endswith('"') and "'" in words:
            words = words[:-1]
        parts.append({"Left": "L", "Right": "R"}.get(words, words))
    return ", ".join(parts)


def worth(node):
    if node.kind in ("number", "word"):
        return node.value
    if node.kind == "text":
        feet = re.fullmatch(r"(-?)(\d+)'-(\d+)\"?", node.value)
        # 4'-0 and 4'-0" are the same length.
        if feet:
            length = int(feet.group(2)) + int(feet.group(3)) / 12
            return ("feet", -length if feet.group(1) else length)
        return ("text", node.value)
    items = [worth(i[1] if isinstance(i, tuple) else i) for i in node.items]
    return (node.kind == "list" and "list" or node.name, *items)


def tree(node, record="Job"):
    """A node as the record of this name."""
    table = TABLES[record]
    if node.kind == "record":
        pairs = node.items
    else:
        pairs = [(f.name, item) for f, item in zip(table, node.items)]
        assert len(node.items) <= len(table), node.raw
    known = {f.name: f for f in table}
    return {name: shaped(known[name].kind, value) for name, value in pairs}


def shaped(kind, node):
    listed = Field("", kind, "").item
    if listed:
        assert node.kind == "list", node.raw
        return [shaped(listed, item) for item in node.items]
    record = bare(kind)
    if record:
        return tree(node, record)
    return Leaf(node, kind)


def differences(wanted, found, at=""):
    """Where two trees differ, one line each, and how many leaves were compared."""
    if type(wanted) is not type(found):
        return [f"{at}: wanted {short(wanted)}, found {short(found)}"], 0
    out, count = [], 0
    if isinstance(wanted, dict):
        for name in [*wanted, *[n for n in found if n not in wanted]]:
            here = f"{at}.{name}" if at else name
            if name not in found:
                out.append(f"{here}: missing, wanted {short(wanted[name])}")
            elif name not in wanted:
                out.append(f"{here}: too much, found {short(found[name])}")
            else:
                more, n = differences(wanted[name], found[name], here)
                out, count = out + more, count + n
    elif isinstance(wanted, list):
        if len(wanted) != len(found):
            out.append(f"{at}: wanted {len(wanted)} of them, found {len(found)}")
        for k, (one, other) in enumerate(zip(wanted, found)):
            more, n = differences(one, other, f"{at}[{k}]")
            out, count = out + more, count + n
    else:
        count = 1
        if wanted.same != found.same:
            out.append(f"{at}: wanted {wanted.node.raw}, found {found.node.raw}")
    return out, count


def short(value):
    if isinstance(value, Leaf):
        return value.node.raw
    return f"{len(value)} {'fields' if isinstance(value, dict) else 'items'}"
