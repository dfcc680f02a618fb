#!/usr/bin/env python3
"""Compares two recordings number by number, to the last bit.

    python3 validation/same_answers/compare.py DIR_A DIR_B [--renames FILE] [--strict] [--show N]

A document is taken apart into leaves: numbers (and truth values, and null), and texts. A number of A must be in B at the same
path and with the same bits, or at the path that `renames.json` sends it to. Exit code 1 where a number differs or is gone, where an
exit code differs, or where a document is missing; with `--strict` also where a text differs, is gone or new, or a key is new.

Numbers inside a text of a JSON document belong to the text. Files that a command wrote are taken apart as well: TOML by its keys,
CSV by its columns, and there the numbers inside a text count as numbers.
"""

import argparse
import collections
import csv
import fnmatch
import io
import json
import pathlib
import re
import struct
import tomllib

NUMBER = re.compile(r"(?<![\w.])[-+−]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?")
# Keys by which the rows of a list may be told apart, where a row was added or taken out between them.
LABELS = ("id", "name", "quantity", "part", "path", "parameter", "cause", "standard", "kind", "code", "rpm")


class Number(str):
    """A number as it is spelled."""

    def same(self, other):
        if self == other:
            return True
        if re.fullmatch(r"-?\d+", self) and re.fullmatch(r"-?\d+", other):
            return int(self) == int(other)
        return struct.pack("<d", float(self)) == struct.pack("<d", float(other))


def load(text):
    return json.loads(text, parse_float=Number, parse_int=Number, parse_constant=Number)


def split_text(text):
    """A text of a written file: its words, and the numbers in it."""
    numbers = [Number(n.replace("−", "-").replace(",", ".")) for n in NUMBER.findall(text)]
    return {"words": NUMBER.sub("#", text), "numbers": numbers}


def of_toml(item):
    if isinstance(item, dict):
        return {key: of_toml(x) for key, x in item.items()}
    if isinstance(item, list):
        return [of_toml(x) for x in item]
    if isinstance(item, str):
        return split_text(item)
    if isinstance(item, bool):
        return item
    return Number(repr(item)) if isinstance(item, (int, float)) else str(item)


def of_file(name, text):
    if text is None:
        return None
    if name.endswith(".toml"):
        return of_toml(tomllib.loads(text))
    if name.endswith(".csv"):
        head, *rows = csv.reader(io.StringIO(text))
        columns = {"header": ", ".join(head)}
        for index, title in enumerate(head):
            columns[title] = [split_text(row[index]) if index < len(row) else None for row in rows]
        return columns
    return [split_text(line) for line in text.splitlines()]


def of_lines(text):
    """Standard error: JSON lines, or plain ones."""
    out = []
    for line in text.splitlines():
        try:
            out.append(load(line))
        except json.JSONDecodeError:
            out.append(line)
    return out


def of_output(text):
    try:
        return load(text)
    except json.JSONDecodeError:
        return text.splitlines()


def document(path):
    raw = json.loads(path.read_text(encoding="utf-8"))
    return {
        "exit_code": str(raw["exit_code"]),
        "stdout": of_output(raw["stdout"]),
        "stderr": of_lines(raw["stderr"]),
        "files": {name: of_file(name, text) for name, text in raw["files"].items()},
    }


def is_answer(leaf):
    """Numbers, truth values and the number that is not there; everything else is a text."""
    return leaf is None or isinstance(leaf, (Number, bool))


def join(path, key):
    return "%s.%s" % (path, key) if path else str(key)


def leaves(item, path, into):
    if isinstance(item, dict):
        for key, inner in item.items():
            leaves(inner, join(path, key), into)
        if not item:
            into[path] = "{}"
    elif isinstance(item, list):
        for index, inner in enumerate(item):
            leaves(inner, "%s[%d]" % (path, index), into)
        if not item:
            into[path] = "[]"
    else:
        into[path] = item


def labels(rows, key):
    """Labels of the rows of a list, if every row has one and no two share it."""
    if not rows or not all(isinstance(row, dict) and isinstance(row.get(key), str) for row in rows):
        return None
    found = [str(row[key]) for row in rows]
    return found if len(set(found)) == len(found) else None


def paired(a, b):
    """Rows of two lists that belong together, each with its name in a path: by place, or by label where the lengths differ."""
    if len(a) != len(b):
        for key in LABELS:
            left, right = labels(a, key), labels(b, key)
            if left and right and set(left) & set(right):
                of_b = dict(zip(right, b))
                pairs = [("[%s]" % name, [row] + ([of_b[name]] if name in of_b else [])) for name, row in zip(left, a)]
                return pairs, [("[%s]" % name, row) for name, row in zip(right, b) if name not in set(left)]
    shared = min(len(a), len(b))
    pairs = [("[%d]" % i, [row] + ([b[i]] if i < shared else [])) for i, row in enumerate(a)]
    return pairs, [("[%d]" % i, b[i]) for i in range(shared, len(b))]


def side_by_side(a, b, path, both, only_a, only_b):
    """Sorts the leaves of two documents into those at a path of both and those of one alone."""
    if isinstance(a, dict) and isinstance(b, dict) and (a or b):
        for key in a.keys() | b.keys():
            inner = join(path, key)
            if key not in b:
                leaves(a[key], inner, only_a)
            elif key not in a:
                leaves(b[key], inner, only_b)
            else:
                side_by_side(a[key], b[key], inner, both, only_a, only_b)
    elif isinstance(a, list) and isinstance(b, list) and (a or b):
        pairs, rest = paired(a, b)
        for name, rows in pairs:
            if len(rows) == 2:
                side_by_side(rows[0], rows[1], path + name, both, only_a, only_b)
            else:
                leaves(rows[0], path + name, only_a)
        for name, row in rest:
            leaves(row, path + name, only_b)
    elif isinstance(a, (dict, list)) or isinstance(b, (dict, list)):
        if isinstance(a, (dict, list)) and isinstance(b, (dict, list)) and not a and not b:
            both[path] = (type(a).__name__, type(b).__name__)
        else:
            leaves(a, path, only_a)
            leaves(b, path, only_b)
    else:
        both[path] = (a, b)


class Renames:
    """Where a path went: `[{"documents": "trace.*", "old": "…[*].value", "new": "…[*].number.value"}]`.

    `*` stands for one key or place, `**` for any stretch of a path; the stars of `new` take what those of `old` found, in order.
    `"new": null` says that the number was taken out on purpose.
    """

    def __init__(self, rows):
        self.rows = []
        for row in rows:
            parts = re.split(r"(\*\*|\*)", row["old"])
            pattern = "".join({"**": "(.*?)", "*": r"([^.\[\]]+)"}.get(p, re.escape(p)) for p in parts)
            self.rows.append((row.get("documents", "*"), re.compile(pattern), row["new"]))

    def of(self, name, path):
        """The new paths a path may have: a list; `None` in it where it was taken out on purpose."""
        found = []
        for documents, pattern, new in self.rows:
            hit = pattern.fullmatch(path)
            if hit and fnmatch.fnmatch(name, documents):
                stars = iter(hit.groups())
                found.append(None if new is None else re.sub(r"\*\*|\*", lambda _: next(stars), new))
        return found


class Tally:
    def __init__(self):
        self.count = collections.Counter()
        self.lines = collections.defaultdict(list)

    def note(self, what, line):
        self.count[what] += 1
        self.lines[what].append(line)

    def weigh(self, where, a, b):
        """One leaf of A against the leaf of B that stands for it."""
        if not is_answer(a) and not is_answer(b):
            self.count["texts compared"] += 1
            if a != b:
                self.note("texts changed", "%s: %s -> %s" % (where, a, b))
                if NUMBER.findall(a) != NUMBER.findall(b):
                    self.count["  of them with other numbers in the text"] += 1
            return
        self.count["numbers compared"] += 1
        if isinstance(a, Number) and isinstance(b, Number):
            if not a.same(b):
                self.note("numbers differing", "%s: %s -> %s" % (where, a, b))
            elif a != b:
                self.note("numbers spelled otherwise, same value", "%s: %s -> %s" % (where, a, b))
        elif type(a) is not type(b) or a != b:
            self.note("numbers differing", "%s: %s -> %s" % (where, a, b))


def compare(name, a, b, renames, tally):
    both, only_a, only_b = {}, {}, {}
    if a.pop("exit_code") != b.pop("exit_code"):
        tally.note("exit codes differing", name)
    tally.count["exit codes compared"] += 1
    side_by_side(a, b, "", both, only_a, only_b)
    for path, (left, right) in both.items():
        tally.weigh("%s %s" % (name, path), left, right)
    for path, left in only_a.items():
        what = "numbers" if is_answer(left) else "texts"
        where = "%s %s" % (name, path)
        targets = renames.of(name, path)
        found = [t for t in targets if t is not None and t in only_b]
        if found:
            tally.count[what + " renamed"] += 1
            tally.weigh("%s => %s" % (where, found[0]), left, only_b.pop(found[0]))
        elif None in targets:
            tally.count[what + " taken out on purpose"] += 1
        else:
            tally.note(what + " gone", "%s: %s" % (where, left))
    for path, right in only_b.items():
        what = "numbers" if is_answer(right) else "texts"
        tally.note(what + " added", "%s %s: %s" % (name, path, right))


ORDER = (
    "documents compared",
    "documents gone",
    "documents added",
    "exit codes compared",
    "exit codes differing",
    "numbers compared",
    "numbers differing",
    "numbers gone",
    "numbers renamed",
    "numbers taken out on purpose",
    "numbers added",
    "numbers spelled otherwise, same value",
    "texts compared",
    "texts changed",
    "  of them with other numbers in the text",
    "texts gone",
    "texts renamed",
    "texts taken out on purpose",
    "texts added",
)
WRONG = ("documents gone", "exit codes differing", "numbers differing", "numbers gone")
WRONG_IF_STRICT = ("documents added", "numbers added", "texts changed", "texts gone", "texts added")


def main():
    here = pathlib.Path(__file__).parent
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("a", type=pathlib.Path)
    options.add_argument("b", type=pathlib.Path)
    options.add_argument("--renames", type=pathlib.Path, default=here / "renames.json")
    options.add_argument("--strict", action="store_true", help="fail where a text or the set of keys differs")
    options.add_argument("--show", type=int, default=10, help="lines shown of every kind of difference")
    given = options.parse_args()
    renames = Renames(json.loads(given.renames.read_text(encoding="utf-8")))
    tally = Tally()
    names = [sorted(p.stem for p in folder.glob("*.json")) for folder in (given.a, given.b)]
    if not names[0]:
        options.error("%s holds no recording" % given.a)
    for name in names[0]:
        if not (given.b / (name + ".json")).exists():
            tally.note("documents gone", name)
            continue
        tally.count["documents compared"] += 1
        a, b = (document(folder / (name + ".json")) for folder in (given.a, given.b))
        compare(name, a, b, renames, tally)
    for name in sorted(set(names[1]) - set(names[0])):
        tally.note("documents added", name)
    for what, lines in tally.lines.items():
        print("%s:" % what)
        for line in lines[: given.show]:
            print("  " + (line if len(line) <= 300 else line[:297] + "..."))
        if len(lines) > given.show:
            print("  and %d more" % (len(lines) - given.show))
    for what in ORDER:
        print("%9d %s" % (tally.count[what], what))
    wrong = WRONG + (WRONG_IF_STRICT if given.strict else ())
    if any(tally.count[what] for what in wrong):
        raise SystemExit(1)


if __name__ == "__main__":
    main()
