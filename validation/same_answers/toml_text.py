"""Writes nested dictionaries as TOML: only what the shop's files need (texts, numbers, truth, flat lists, tables, lists of tables)."""

import json


def value(item):
    if isinstance(item, bool):
        return "true" if item else "false"
    if isinstance(item, (int, float)):
        return repr(item)
    if isinstance(item, list):
        return "[" + ", ".join(value(x) for x in item) + "]"
    return json.dumps(item, ensure_ascii=False)


def toml(table, path=()):
    """Text of a table: plain keys first, then its subtables, then its lists of tables."""
    lines, below = [], []
    for key, item in table.items():
        inner = path + (key,)
        if isinstance(item, dict):
            below.append("\n[%s]\n%s" % (".".join(inner), toml(item, inner)))
        elif isinstance(item, list) and item and isinstance(item[0], dict):
            for row in item:
                below.append("\n[[%s]]\n%s" % (".".join(inner), toml(row, inner)))
        else:
            lines.append("%s = %s\n" % (key, value(item)))
    return "".join(lines) + "".join(below)


def document(kind, name, body):
    return toml({"kind": kind, "version": 1, "name": name, **body})
