"""Checks what the layout promises: top level, first comments, and includes that run one way.

usage: check_layout.py [ROOT]
Prints FILE:LINE: what is wrong, one a line; exit code 1 if there is any, 2 for a wrong call.
The rules are DEVELOPERS.md's; a new folder or arrow is a decision to be made there first.
"""

import os
import re
import sys

TOP_LEVEL = {
    "protocol", "server", "web", "tests", "deploy", ".ci", "CMakeLists.txt", "Dockerfile",
    "LICENSE", "README.md", "DEVELOPERS.md", ".clang-format", ".clang-tidy", ".dockerignore",
    ".gitignore",
}
# Made by building, running or git; never part of the project.
NOT_OURS = re.compile(r"^(\.git|build|build-[^/]*|data|[^/]*\.tmp)$")
SKIPPED_FOLDERS = {"node_modules", "dist", "__pycache__"}

# What each folder may include from, longest prefix first when looked up. A folder may always
# include from itself.
ARROWS = {
    "protocol": {"protocol/cart"},
    "protocol/cart": set(),
    "server/floor": set(),
    "server/access": {"server/floor"},
    "server/traffic": {"server/floor"},
    "server/dispatch": {"server/traffic", "server/floor"},
    "server/control": {"server/dispatch", "server/traffic", "server/floor"},
    "server/replay": {"server/control", "server/floor"},
    "server/figures": {"server/control", "server/floor"},
    "server/store": {"server/access", "server/figures", "server/replay", "server/control",
                     "server/floor"},
    "server/net": {"protocol", "server/access", "server/figures", "server/replay",
                   "server/control", "server/floor"},
    "server/sim": {"protocol", "protocol/cart", "server/control", "server/dispatch", "server/floor"},
    "server/app": {"protocol", "server/access", "server/figures", "server/net", "server/sim", "server/store",
                   "server/replay", "server/control", "server/dispatch", "server/traffic",
                   "server/floor"},
    "tests": {"protocol", "protocol/cart", "server/access", "server/floor", "server/traffic",
              "server/dispatch", "server/control", "server/replay", "server/store", "server/net",
              "server/sim", "server/app", "server/figures"},
}

# The deterministic core knows of no sockets, clocks, threads, files, JSON, SQL or logging; nor do
# the rules of who may come in.
CORE = {"server/floor", "server/traffic", "server/dispatch", "server/control", "server/replay",
        "server/access", "server/figures"}
# Digests are another library's.
DIGESTS = re.compile(r"^server/access/secret\.cpp$")
# The loader of the floor file is a library of its own inside server/floor.
FLOOR_FILE = re.compile(r"^server/floor/file[^/]*$")
FORBIDDEN_IN_CORE = re.compile(
    r"^(nlohmann/|SQLiteCpp/|sqlite3\.h|spdlog/|boost/(asio|beast|filesystem|thread)|openssl/|"
    r"(fstream|filesystem|iostream|cstdio|thread|mutex|shared_mutex|condition_variable|atomic|"
    r"future|random|ctime)$)")
CLOCK = re.compile(r"\b(system|steady|high_resolution|utc)_clock::now\b")
# Firmware has the freestanding headers of C, and string.h, which every C library has.
FIRMWARE_HEADERS = {"stdint.h", "stddef.h", "stdbool.h", "limits.h", "string.h"}

INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^>"]+)[>"]')
CPP = (".cpp", ".hpp", ".h", ".ino")
COMMENT_STARTS = {
    ".cpp": ("//", "/*"), ".hpp": ("//", "/*"), ".h": ("//", "/*"), ".ino": ("//", "/*"),
    ".ts": ("//", "/*"), ".tsx": ("//", "/*"), ".js": ("//", "/*"), ".mjs": ("//", "/*"),
    ".css": ("/*",), ".html": ("<!--",), ".py": ("#", '"""'), ".sh": ("#",), ".sql": ("--",),
    ".service": ("#",), ".cmake": ("#",), ".yml": ("#",),
}


def files_of(root):
    """Every file of the project, as paths from the root with forward slashes."""
    for folder, folders, names in os.walk(root):
        inside = os.path.relpath(folder, root).replace(os.sep, "/")
        folders[:] = sorted(f for f in folders if f not in SKIPPED_FOLDERS
                            and not (inside == "." and NOT_OURS.match(f)))
        for name in sorted(names):
            if inside == "." and NOT_OURS.match(name):
                continue
            yield name if inside == "." else f"{inside}/{name}"


def check_top_level(root):
    """Only what the design names stands at the top."""
    for name in sorted(os.listdir(root)):
        if name not in TOP_LEVEL and not NOT_OURS.match(name) and name not in SKIPPED_FOLDERS:
            yield name, 1, ("nothing of this name belongs at the top level; move it into one of "
                            "its folders, or name it in DEVELOPERS.md and deploy/check_layout.py")


def comment_starts(path):
    """How a comment starts in this kind of file; nothing for kinds that have none."""
    name = path.rsplit("/", 1)[-1]
    if path in ("CMakeLists.txt", "Dockerfile"):
        return ("#",)
    if name == "CMakeLists.txt":  # of a folder: it holds what the folder's own files say
        return ()
    suffix = os.path.splitext(name)[1]
    if suffix:
        return COMMENT_STARTS.get(suffix, ())
    return ("#",) if path.startswith(("deploy/", ".ci/")) else ()


def check_first_comment(path, lines):
    """The file says its one reason to exist in its first line (after #! or a doctype)."""
    starts = comment_starts(path)
    if not starts:
        return
    first = 0
    # In a page the first thing may be tags that must come early; the comment follows them.
    if path.endswith(".html") and any(line.lstrip().startswith(starts) for line in lines[:20]):
        return
    if lines and re.match(r"(#!|<!doctype\b)", lines[0], re.IGNORECASE):
        first = 1
    if len(lines) <= first or not lines[first].startswith(starts):
        yield path, first + 1, "the file must start with a comment that says what it is for"


def module_of(path):
    """The folder of ARROWS that a path lies in, or None."""
    for module in sorted(ARROWS, key=len, reverse=True):
        if path.startswith(module + "/"):
            return module
    return None


def check_include(path, module, number, kind, target):
    """One include line against the arrows."""
    if module == "protocol/cart" and kind == "<" and target not in FIRMWARE_HEADERS:
        yield path, number, f"cart-side logic runs as firmware and can't have <{target}>"
    if (module in CORE and not FLOOR_FILE.match(path) and FORBIDDEN_IN_CORE.match(target)
            and not (DIGESTS.match(path) and target.startswith("openssl/"))):
        yield path, number, (f"{module} must not know of sockets, clocks, threads, files, JSON or "
                             f"SQL, but includes {target}")
    if kind != '"':
        return
    if target.endswith(".cpp"):
        yield path, number, f"{target} is a source: it is compiled, never included"
    aim = module_of(target)
    if module == "tests" and "/" not in target:
        return  # a helper beside the test that uses it
    if aim is None or (aim == "tests" and module != "tests"):
        yield path, number, (f'"{target}" must be a path from the top of the project, in a folder '
                             "that others may include from")
    elif aim != module and aim not in ARROWS[module]:
        allowed = ", ".join(sorted(ARROWS[module])) or "nothing"
        yield path, number, f"{module} must not include from {aim} (it may from: {allowed})"
    elif module in CORE and FLOOR_FILE.match(target) and not FLOOR_FILE.match(path):
        yield path, number, f"{module} must not know of the floor file; take a floor instead"


def check_arrows(path, lines):
    """Every include of one C++ file, and clocks in the core."""
    module = module_of(path)
    if not path.endswith(CPP) or module is None:
        return
    for number, line in enumerate(lines, 1):
        if found := INCLUDE.match(line):
            yield from check_include(path, module, number, *found.groups())
        elif module in CORE and CLOCK.search(line.split("//")[0]):
            yield path, number, f"{module} is told the time and never asks a clock"


def check(root):
    """All findings as (path, line, what is wrong)."""
    yield from check_top_level(root)
    for path in files_of(root):
        if not comment_starts(path) and not path.endswith(CPP):
            continue
        with open(os.path.join(root, path), encoding="utf-8", errors="replace") as file:
            lines = file.read().splitlines()
        yield from check_first_comment(path, lines)
        yield from check_arrows(path, lines)


def main():
    if len(sys.argv) > 2 or (len(sys.argv) == 2 and not os.path.isdir(sys.argv[1])):
        print("usage: check_layout.py [ROOT]", file=sys.stderr)
        return 2
    root = sys.argv[1] if len(sys.argv) == 2 else os.path.join(os.path.dirname(__file__), "..")
    findings = list(check(root))
    for path, line, wrong in findings:
        print(f"{path}:{line}: {wrong}")
    return 1 if findings else 0


if __name__ == "__main__":
    sys.exit(main())
