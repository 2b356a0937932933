"""Runs clang-tidy over the project's own .cpp files, several at a time, and remembers good ones.

usage: tidy.py BUILD_FOLDER JOBS
BUILD_FOLDER holds compile_commands.json. CMake may have put several sources together in one file
to be compiled as one ("unity build"): they are then checked as one, by the rules of their folder,
which takes a third of the time. A file that passed is not checked again until it, a project source
or header it includes, .clang-tidy, its compile command or clang-tidy itself changes; the
marks are kept in BUILD_FOLDER/tidy. Exit code 1 if a file has findings, 2 if there is no file.
"""

import concurrent.futures
import hashlib
import json
import os
import re
import subprocess
import sys
import time

INCLUDE = re.compile(r'^\s*#\s*include\s*"([^"]+)"', re.MULTILINE)
OPTIONS = ["--quiet", "--extra-arg=-Wno-unknown-warning-option"]


def read(path):
    """The text of a file, empty if it isn't there."""
    try:
        with open(path, encoding="utf-8", errors="replace") as file:
            return file.read()
    except OSError:
        return ""


def with_headers(root, path, seen):
    """Collects a file and every project header it includes, directly or not."""
    if path in seen or not os.path.isfile(path):
        return
    seen.add(path)
    for target in INCLUDE.findall(read(path)):
        with_headers(root, os.path.join(root, target), seen)


def key_of(root, entry, common):
    """What the result for this file depends on, as a hash."""
    files = set()
    with_headers(root, entry["file"], files)
    digest = hashlib.sha256(common.encode())
    digest.update(entry["command"].encode())
    for path in sorted(files):
        digest.update(path.encode() + b"\0" + read(path).encode() + b"\0")
    return digest.hexdigest()


def sources_of(entry):
    """The sources behind a file to be compiled: those that CMake put together in it, or itself."""
    together = re.findall(r'^#include "(/[^"]+\.cpp)"', read(entry["file"]), re.MULTILINE)
    return together or [entry["file"]]


def rules_for(entry, build):
    """Options that make clang-tidy take the rules of the folder of the sources, not of the build."""
    first = sources_of(entry)[0]
    if first == entry["file"]:
        return []
    rules = subprocess.run(["clang-tidy-19", "-p", build, "--dump-config", first],
                           stdin=subprocess.DEVNULL, capture_output=True, text=True,
                           check=True).stdout
    file = os.path.join(build, "tidy", hashlib.sha256(rules.encode()).hexdigest() + ".rules")
    with open(file, "w", encoding="utf-8") as out:
        out.write(rules)
    # That a source includes a source is CMake's doing here; deploy/check_layout.py looks at ours.
    return ["--config-file=" + file, "--checks=-bugprone-suspicious-include"]


def check(build, root, entry, mark):
    """(file, good, what clang-tidy said, seconds)."""
    started = time.monotonic()
    done = subprocess.run(["clang-tidy-19", "-p", build, *OPTIONS, *rules_for(entry, build),
                           entry["file"]],
                          stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    good = done.returncode == 0
    if good:
        open(mark, "w", encoding="utf-8").close()
    said = done.stdout if good else done.stdout + done.stderr
    checked = sources_of(entry)
    name = os.path.relpath(checked[0], root)
    if len(checked) > 1:
        name += f" and {len(checked) - 1} more"
    return name, good, said.strip(), time.monotonic() - started


def main():
    if len(sys.argv) != 3:
        print("usage: tidy.py BUILD_FOLDER JOBS", file=sys.stderr)
        return 2
    build, jobs = os.path.abspath(sys.argv[1]), int(sys.argv[2])
    root = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    marks = os.path.join(build, "tidy")
    os.makedirs(marks, exist_ok=True)
    with open(os.path.join(build, "compile_commands.json"), encoding="utf-8") as file:
        entries = {entry["file"]: entry for entry in json.load(file)}
    entries = [e for f, e in sorted(entries.items()) if os.path.isfile(f) and f.startswith(root)]
    if not entries:
        print("there is no C++ file to check", file=sys.stderr)
        return 2
    version = subprocess.run(["clang-tidy-19", "--version"], capture_output=True, text=True,
                             check=True).stdout
    settings = "".join(read(os.path.join(root, folder, ".clang-tidy"))
                       for folder in ("", "server/net", "server/sim", "tests"))
    common = version + settings + " ".join(OPTIONS)
    todo = []
    for entry in entries:
        mark = os.path.join(marks, key_of(root, entry, common))
        if not os.path.exists(mark):
            todo.append((entry, mark))
    # Bigger files take longer; starting with them keeps all cores busy to the end.
    todo.sort(key=lambda item: -sum(map(os.path.getsize, sources_of(item[0]))))
    count = sum(len(sources_of(entry)) for entry in entries)
    print(f"clang-tidy: {count} sources in {len(entries)} files, {len(entries) - len(todo)} of them "
          "unchanged since they passed", flush=True)
    bad = 0
    with concurrent.futures.ThreadPoolExecutor(max_workers=jobs) as pool:
        runs = [pool.submit(check, build, root, entry, mark) for entry, mark in todo]
        for number, run in enumerate(concurrent.futures.as_completed(runs), 1):
            path, good, said, seconds = run.result()
            bad += not good
            print(f"[{number}/{len(todo)}] {path}: {'good' if good else 'FINDINGS'}, "
                  f"{seconds:.0f} s", flush=True)
            if said:
                print(said, flush=True)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
