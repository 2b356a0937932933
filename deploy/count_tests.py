"""Prints "PASSED FAILED" for the log of one suite, from the closing lines of the test runners.

usage: count_tests.py LOG EXIT_CODE
Understood: ctest, node's test runner, Python's unittest, and a line "N passed, N failed". A suite
may hold several runs; they are added up. A run that failed without a failed test (a crash of the
runner, say) counts as one failure, so that an exit code can't be lost on the way to the total.
"""

import re
import sys

ANSI = re.compile(r"\x1b\[[0-9;]*m")
CTEST = re.compile(r"^\d+% tests passed, (\d+) tests failed out of (\d+)$")
CTEST_SKIPPED = re.compile(r"^\d+ - .* \(Skipped\)$")
NODE = re.compile(r"^(?:# |\u2139 )(pass|fail|cancelled) (\d+)$")
PLAIN = re.compile(r"^(\d+) passed, (\d+) failed(?:, \d+ skipped)?$")
UNITTEST_RAN = re.compile(r"^Ran (\d+) tests? in ")
UNITTEST_FAILED = re.compile(r"^FAILED \((.*)\)$")
UNITTEST_OK = re.compile(r"^OK(?: \((.*)\))?$")


def named(text, name):
    """The number in a list like "failures=1, skipped=2", 0 if the name isn't there."""
    found = re.search(rf"\b{name}=(\d+)", text or "")
    return int(found.group(1)) if found else 0


def count(lines):
    """(passed, failed) over every closing line found."""
    lines = [ANSI.sub("", line).strip() for line in lines]
    if any(CTEST.match(line) for line in lines):
        # ctest shows what a failed test printed, closing lines included: those are counted already.
        lines = [line for line in lines if CTEST.match(line) or CTEST_SKIPPED.match(line)]
    passed = failed = ran = 0
    for line in lines:
        if found := CTEST.match(line):
            failed += int(found.group(1))
            passed += int(found.group(2)) - int(found.group(1))
        elif CTEST_SKIPPED.match(line):  # ctest has counted it among the passed ones
            passed -= 1
        elif found := NODE.match(line):
            if found.group(1) == "pass":
                passed += int(found.group(2))
            else:
                failed += int(found.group(2))
        elif found := PLAIN.match(line):
            passed += int(found.group(1))
            failed += int(found.group(2))
        elif found := UNITTEST_RAN.match(line):
            ran = int(found.group(1))
        elif found := UNITTEST_FAILED.match(line):
            bad = sum(named(found.group(1), name) for name in ("failures", "errors"))
            failed += bad
            passed += max(0, ran - bad - named(found.group(1), "skipped"))
            ran = 0
        elif found := UNITTEST_OK.match(line):
            passed += ran - named(found.group(1), "skipped")
            ran = 0
    return passed, failed


def main():
    log, exit_code = sys.argv[1], int(sys.argv[2])
    with open(log, encoding="utf-8", errors="replace") as lines:
        passed, failed = count(lines)
    if exit_code != 0 and failed == 0:
        failed = 1
    print(passed, failed)


if __name__ == "__main__":
    main()
