#!/usr/bin/env python3
"""Runs one binary over the prepared inputs and keeps, word for word, everything it says.

    python3 validation/same_answers/record.py BINARY INPUTS_DIR OUT_DIR [PATTERN]

PATTERN (`'quote.*'`) keeps to the chains that have a document of such a name. One file for each command goes to OUT_DIR: the command, its exit code, standard output, standard error and the files it wrote. Every
chain of commands runs in an empty folder in which `in` stands for INPUTS_DIR, so no path of the machine gets into an answer. Two
commands run at a time.
"""

import concurrent.futures
import fnmatch
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import time

LONGEST_S = 300


def run(binary, inputs, out, chain):
    """One chain: commands that follow one another because the later ones read what the earlier ones wrote."""
    times = []
    with tempfile.TemporaryDirectory() as folder:
        os.symlink(inputs, os.path.join(folder, "in"))
        for step in chain:
            start = time.monotonic()
            try:
                ran = subprocess.run([binary, *step["args"]], cwd=folder, capture_output=True, timeout=LONGEST_S, check=False)
                code, said, told = ran.returncode, ran.stdout, ran.stderr
            except subprocess.TimeoutExpired:
                code, said, told = "longer than %d s" % LONGEST_S, b"", b""
            files = {}
            for name in step.get("files", []):
                path = pathlib.Path(folder, name)
                files[name] = path.read_text(encoding="utf-8") if path.exists() else None
            answer = {
                "command": step["args"],
                "exit_code": code,
                "stdout": said.decode("utf-8", "replace"),
                "stderr": told.decode("utf-8", "replace"),
                "files": files,
            }
            (out / (step["id"] + ".json")).write_text(json.dumps(answer, ensure_ascii=False, indent=1), encoding="utf-8")
            times.append((time.monotonic() - start, step["id"], code))
    return times


def main():
    if len(sys.argv) not in (4, 5):
        sys.exit(__doc__)
    binary, inputs, out = (pathlib.Path(p).resolve() for p in sys.argv[1:4])
    pattern = sys.argv[4] if len(sys.argv) == 5 else "*"
    out.mkdir(parents=True, exist_ok=True)
    if any(out.iterdir()):
        sys.exit("%s is not empty: answers of two binaries must not mix" % out)
    chains = json.loads((inputs / "commands.json").read_text(encoding="utf-8"))
    chains = [c for c in chains if any(fnmatch.fnmatchcase(step["id"], pattern) for step in c)]
    start = time.monotonic()
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        times = [t for done in pool.map(lambda c: run(binary, inputs, out, c), chains) for t in done]
    codes = {}
    for _, _, code in times:
        codes[str(code)] = codes.get(str(code), 0) + 1
    print("%d documents in %.0f s; exit codes %s" % (len(times), time.monotonic() - start, dict(sorted(codes.items()))))
    print("slowest: " + ", ".join("%s %.1f s" % (name, spent) for spent, name, _ in sorted(times, reverse=True)[:5]))


if __name__ == "__main__":
    main()
