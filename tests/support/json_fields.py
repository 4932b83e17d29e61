# SPDX-License-Identifier: Apache-2.0
"""json_fields.py FIELDS VERB FILE: every field that the verb wrote (one object, or one a line) is described in FIELDS."""
import json
import re
import sys


def described(path, verb):
    patterns, on = [], False
    for line in open(path, encoding="utf-8"):
        if line.startswith("@ "):
            on = verb in line.split()[1:]
        elif on and ": " in line:
            name = re.escape(line.split(": ", 1)[0]).replace(r"\*", ".*")
            patterns.append(re.sub(r"\b[A-Z]+\b", "[a-z][a-z0-9-]*", name))
    return re.compile("|".join(patterns)) if patterns else None


def paths(value, path=""):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from paths(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for inner in value:
            yield from paths(inner, path + "[]")
    else:
        yield path


def answers(text):
    try:
        return [json.loads(text)]
    except ValueError:
        return [json.loads(line) for line in text.splitlines()]


fields, verb, name = sys.argv[1:]
known = described(fields, verb)
if not known:
    sys.exit(f"{fields} has no part '@ {verb}'")
written = {path for answer in answers(open(name, encoding="utf-8").read()) for path in paths(answer)}
if not written:
    sys.exit(f"{verb}: wrote nothing")
unknown = sorted(path for path in written if not known.fullmatch(path))
if unknown:
    sys.exit(f"{verb}: not described: " + ", ".join(unknown))
