"""Tests of the scripts in this folder: a check that can't fail would be worth nothing, so each one
is shown planted faults and must find them."""

import os
import shutil
import subprocess
import sys
import tempfile
import unittest

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
sys.dont_write_bytecode = True

import check_layout  # noqa: E402  (found only by the path set above)
import count_tests  # noqa: E402


def run(*command):
    """Runs one of the scripts; its exit code, standard output and standard error."""
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True,
                          check=False)
    return done.returncode, done.stdout, done.stderr


class CheckLayout(unittest.TestCase):
    """Planted files in a project of their own."""

    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)

    def plant(self, path, text):
        full = os.path.join(self.folder.name, path)
        os.makedirs(os.path.dirname(full), exist_ok=True)
        with open(full, "w", encoding="utf-8") as file:
            file.write(text)

    def findings(self):
        return [(path, line) for path, line, _ in check_layout.check(self.folder.name)]

    def include(self, path, line):
        self.plant(path, f"// For a test.\n#include {line}\n")
        return self.findings()

    def test_a_source_is_not_included(self):
        self.assertEqual(self.include("server/app/a.cpp", '"server/app/b.cpp"'),
                         [("server/app/a.cpp", 2)])

    def test_good_project(self):
        self.plant("server/control/a.cpp", '// A.\n#include "server/floor/ids.hpp"\n#include <map>\n')
        self.plant("server/floor/file.cpp", "// The loader.\n#include <nlohmann/json.hpp>\n")
        self.plant("server/app/a.cpp", '// A.\n#include "server/floor/file.hpp"\n')
        self.plant("tests/unit/a.cpp", '// A.\n#include "tests/unit/b.hpp"\n'
                                       '#include "server/net/c.hpp"\n')
        self.plant("web/page.html", "<!doctype html>\n<!-- The board. -->\n")
        self.plant("deploy/run", "#!/usr/bin/env bash\n# Runs.\n")
        self.plant("build-asan/x.cpp", "int main() {}\n")
        self.plant("web/node_modules/x/x.js", "x\n")
        self.assertEqual(self.findings(), [])

    def test_top_level(self):
        self.plant("notes/a.txt", "a\n")
        self.assertEqual(self.findings(), [("notes", 1)])

    def test_first_comment(self):
        self.plant("server/floor/a.cpp", "int a;\n")
        self.plant("web/a.ts", "export {};\n")
        self.plant("web/b.css", "")
        self.plant("deploy/run", "#!/bin/sh\necho\n")
        self.assertEqual(self.findings(), [("deploy/run", 2), ("server/floor/a.cpp", 1),
                                           ("web/a.ts", 1), ("web/b.css", 1)])

    def test_every_arrow_against_its_direction(self):
        for path, target in [
                ("server/floor/a.hpp", "server/traffic/b.hpp"),
                ("server/traffic/a.cpp", "server/dispatch/b.hpp"),
                ("server/dispatch/a.cpp", "server/control/b.hpp"),
                ("server/control/a.cpp", "server/store/b.hpp"),
                ("server/control/a.cpp", "protocol/messages.hpp"),
                ("server/store/a.cpp", "server/net/b.hpp"),
                ("server/net/a.cpp", "server/store/b.hpp"),
                ("server/sim/a.cpp", "server/net/b.hpp"),
                ("protocol/a.cpp", "server/floor/ids.hpp"),
                ("protocol/cart/a.cpp", "protocol/messages.hpp"),
                ("server/net/a.cpp", "tests/b.hpp"),
                ("server/net/a.cpp", "b.hpp")]:
            with self.subTest(path=path, target=target):
                self.assertEqual(self.include(path, f'"{target}"'), [(path, 2)])
                os.remove(os.path.join(self.folder.name, path))

    def test_core_knows_nothing_of_the_world(self):
        for target in ("<fstream>", "<nlohmann/json.hpp>", "<boost/asio.hpp>", "<thread>",
                       "<SQLiteCpp/SQLiteCpp.h>", '"server/floor/file.hpp"'):
            with self.subTest(target=target):
                self.assertEqual(self.include("server/traffic/a.cpp", target),
                                 [("server/traffic/a.cpp", 2)])
        self.plant("server/traffic/a.cpp", "// A.\nauto t = std::chrono::system_clock::now();\n")
        self.assertEqual(self.findings(), [("server/traffic/a.cpp", 2)])

    def test_firmware_has_no_library(self):
        self.assertEqual(self.include("protocol/cart/a.hpp", "<vector>"),
                         [("protocol/cart/a.hpp", 2)])
        self.assertEqual(self.include("protocol/cart/a.hpp", "<stdint.h>"), [])

    def test_exit_code(self):
        script = os.path.join(HERE, "check_layout.py")
        self.plant("server/floor/a.cpp", "// A.\n")
        self.assertEqual(run(sys.executable, script, self.folder.name)[0], 0)
        self.plant("server/floor/a.cpp", "int a;\n")
        code, out, _ = run(sys.executable, script, self.folder.name)
        self.assertEqual((code, out.split(": ")[0]), (1, "server/floor/a.cpp:1"))


class CountTests(unittest.TestCase):
    """Closing lines of each runner, as the runners print them."""

    def test_each_runner(self):
        for lines, expected in [
                (["100% tests passed, 0 tests failed out of 12"], (12, 0)),
                (["100% tests passed, 0 tests failed out of 3", "The following tests did not run:",
                  "\t 33 - Portable.Avr/tag  # GetParam() = 4 (Skipped)"], (2, 0)),
                (["75% tests passed, 1 tests failed out of 4"], (3, 1)),
                (["\u2139 tests 5", "\u2139 pass 4", "\u2139 fail 1"], (4, 1)),
                (["# pass 4", "# fail 0", "# cancelled 1"], (4, 1)),
                (["7 passed, 2 failed"], (7, 2)),
                (["Ran 6 tests in 0.1s", "", "OK"], (6, 0)),
                (["Ran 6 tests in 0.1s", "", "OK (skipped=2)"], (4, 0)),
                (["Ran 6 tests in 0.1s", "", "FAILED (failures=1, errors=2)"], (3, 3)),
                (["\x1b[32m7 passed, 0 failed\x1b[0m"], (7, 0)),
                (["No tests were found!!!"], (0, 0)),
                (["Ran 1 test in 2s", "FAILED (failures=1)",
                  "50% tests passed, 1 tests failed out of 2"], (1, 1)),
                (["2 passed, 0 failed", "2 passed, 0 failed"], (4, 0))]:
            with self.subTest(lines=lines):
                self.assertEqual(count_tests.count(lines), expected)

    def test_a_crash_counts(self):
        with tempfile.NamedTemporaryFile("w", suffix=".log") as log:
            log.write("3 passed, 0 failed\n")
            log.flush()
            script = os.path.join(HERE, "count_tests.py")
            self.assertEqual(run(sys.executable, script, log.name, "0")[1], "3 0\n")
            self.assertEqual(run(sys.executable, script, log.name, "139")[1], "3 1\n")


class Run(unittest.TestCase):
    """The command line of deploy/run itself."""

    script = os.path.join(HERE, "run")

    def test_help(self):
        code, out, _ = run(self.script, "help")
        self.assertEqual(code, 0)
        for command in ("demo", "serve", "build", "test", "lint", "install", "help"):
            self.assertRegex(out, rf"(?m)^  {command}\b")

    def test_wrong_calls_are_refused(self):
        for arguments in ([], ["paint"], ["install", "paint"], ["test", "--only", "paint"],
                          ["test", "--only"], ["lint", "extra"]):
            with self.subTest(arguments=arguments):
                code, out, error = run(self.script, *arguments)
                self.assertEqual((code, out), (2, ""))
                self.assertTrue(error)


class Totals(unittest.TestCase):
    """A failure anywhere must reach the last line and the exit code, in a project of its own."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.root = folder.name
        os.makedirs(os.path.join(self.root, "deploy"))
        os.makedirs(os.path.join(self.root, ".ci"))

    def plant(self, path, text):
        full = os.path.join(self.root, path)
        with open(full, "w", encoding="utf-8") as file:
            file.write(text)
        os.chmod(full, 0o755)
        return full

    def end_of_suite(self, suite):
        """Exit code and last line of `deploy/run test` with this as its only suite."""
        for name in ("run", "packages.txt", "count_tests.py"):
            shutil.copy(os.path.join(HERE, name), os.path.join(self.root, "deploy", name))
        self.plant("deploy/self_test.py", suite)
        code, out, _ = run(os.path.join(self.root, "deploy/run"), "test", "--only", "deploy")
        return code, out.splitlines()[-1]

    def test_of_a_suite(self):
        self.assertEqual(self.end_of_suite("print('3 passed, 0 failed')"),
                         (0, "3 passed, 0 failed"))
        self.assertEqual(self.end_of_suite("print('3 passed, 1 failed')"),
                         (1, "3 passed, 1 failed"))
        self.assertEqual(self.end_of_suite("print('3 passed, 0 failed'); raise SystemExit(1)"),
                         (1, "3 passed, 1 failed"))
        self.assertEqual(self.end_of_suite("print('nothing to do')"), (1, "0 passed, 1 failed"))

    def end_of_ci(self, test, lint):
        """Exit code and last line of .ci/run where the two commands do this."""
        shutil.copy(os.path.join(HERE, "..", ".ci", "run"), os.path.join(self.root, ".ci", "run"))
        self.plant("deploy/run", f"#!/bin/bash\nif [[ $1 == test ]]; then {test}; else {lint}; fi\n")
        code, out, _ = run("bash", os.path.join(self.root, ".ci/run"))
        return code, out.splitlines()[-1]

    def test_of_everything(self):
        good, bad = "echo 9 passed, 0 failed", "echo 8 passed, 1 failed; exit 1"
        self.assertEqual(self.end_of_ci(good, good), (0, "18 passed, 0 failed"))
        self.assertEqual(self.end_of_ci(bad, good), (1, "17 passed, 1 failed"))
        self.assertEqual(self.end_of_ci(good, bad), (1, "17 passed, 1 failed"))
        self.assertEqual(self.end_of_ci(good, "exit 1"), (1, "9 passed, 1 failed"))
        self.assertEqual(self.end_of_ci("true", good), (1, "9 passed, 1 failed"))
        self.assertEqual(self.end_of_ci(f"{good}; exit 3", good), (1, "18 passed, 1 failed"))


class Installed(unittest.TestCase):
    """The files for a machine that runs Tagline for good, against what the program does there."""

    def lines(self, name):
        with open(os.path.join(HERE, name), encoding="utf-8") as file:
            return [line.strip() for line in file]

    def test_the_unit_allows_what_threads_call(self):
        # systemd.exec(5), SystemCallFilter=: lists add up in their order, "~" takes out; what is
        # left out ends the process unless SystemCallErrorNumber= is set. @resources of
        # systemd-analyze syscall-filter (252) has setpriority in it.
        allowed = False
        for line in self.lines("tagline.service"):
            if not line.startswith("SystemCallFilter="):
                continue
            calls = line.split("=", 1)[1]
            for call in calls.lstrip("~").split():
                if call in ("@system-service", "@resources", "setpriority"):
                    allowed = not calls.startswith("~")
        self.assertTrue(allowed)
        self.assertIn("SystemCallErrorNumber=EPERM", self.lines("tagline.service"))

    def test_a_whole_floor_passes_the_proxy(self):
        lines = self.lines("tagline.nginx")
        floor = lines[lines.index("location /api/floor {"):]
        self.assertIn("client_max_body_size 1m;", floor[:floor.index("}")])


if __name__ == "__main__":
    unittest.main()
