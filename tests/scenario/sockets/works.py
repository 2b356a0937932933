"""The demo works as processes of their own: the service, five virtual carts, and what a scenario
needs to start, kill, ask and check them. TAGLINE_BIN names the program."""

import collections
import contextlib
import ctypes
import http.client
import json
import os
import pathlib
import random
import signal
import socket
import sqlite3
import subprocess
import tempfile
import time
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[3]
FLOOR = ROOT / "deploy" / "demo.floor.json"
FLEET = ROOT / "deploy" / "demo.fleet.json"
FINAL = {"delivered", "cancelled", "stranded"}
UNSURE = {"off_floor", "in_doubt"}  # such carts may overlap others in the books


def end_with_parent():
    """However a test is ended, nothing of it is left running (Linux, prctl(2))."""
    set_parent_death_signal = 1
    ctypes.CDLL(None).prctl(set_parent_death_signal, signal.SIGKILL)


def free_port(seed):
    """A port that is free now, below those that the system gives to clients: between two lives of
    the service nobody else gets it by chance."""
    chance = random.Random(f"{seed} {os.getpid()}")
    while True:
        port = chance.randrange(12000, 32000)
        with socket.socket() as trial:
            try:
                trial.bind(("127.0.0.1", port))
                return port
            except OSError:
                continue


def ask(port, method, path, body=None, key=None, timeout=5.0):
    """(status, JSON). OSError or HTTPException if there is no whole answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=timeout)
    try:
        headers = {"Content-Type": "application/json"} if body is not None else {}
        if key:
            headers["Idempotency-Key"] = key
        connection.request(method, path, json.dumps(body) if body is not None else None, headers)
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())
    except ValueError as error:  # an answer cut off
        raise http.client.HTTPException(str(error)) from error
    finally:
        connection.close()


NO_ANSWER = (OSError, http.client.HTTPException)


class ByItself(AssertionError):
    """A process ended that nobody had ended."""


class Works:
    """Mixed into a TestCase. `pace` and `patience_s` (real time for the whole scenario) may be set
    by it before setUp."""

    pace = 50
    patience_s = 600
    seed = 1
    cart_options = ()

    def setUp(self):
        self.program = os.environ.get("TAGLINE_BIN")
        assert self.program, "TAGLINE_BIN must name the tagline program"
        keep = os.environ.get("TAGLINE_KEEP")  # a folder to leave logs and data in
        if keep:
            pathlib.Path(keep).mkdir(parents=True, exist_ok=True)
            self.path = pathlib.Path(tempfile.mkdtemp(prefix="tagline-works-", dir=keep))
        else:
            folder = tempfile.TemporaryDirectory(prefix="tagline-works-")
            self.addCleanup(folder.cleanup)
            self.path = pathlib.Path(folder.name)
        self.port = free_port(self.seed)
        self.service = self.carts = None
        self.started = time.monotonic()
        self.homes = {cart["id"]: cart["home"] for cart in json.loads(FLEET.read_text())["carts"]}
        floor = json.loads(FLOOR.read_text())
        self.demand = floor["demand"]
        self.point_of = {station["id"]: station["point"] for station in floor["stations"]}

    # ---- processes

    def start(self, name, *arguments):
        with open(self.path / f"{name}.log", "ab") as log:
            process = subprocess.Popen([self.program, *map(str, arguments)], stdout=log, stderr=log,
                                       stdin=subprocess.PIPE, preexec_fn=end_with_parent)
        self.addCleanup(self.end, process)
        return process

    def end(self, process):
        process.stdin.close()
        if process.poll() is None:
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        return process.returncode

    def spawn_service(self):
        """Starts it without waiting for anything."""
        self.service = self.start(
            "service", "serve", "--floor", FLOOR, "--fleet", FLEET, "--data", self.path / "data",
            "--port", self.port, "--pace", self.pace, "--open-door", "builder")

    def start_service(self):
        self.spawn_service()
        self.wait_for(self.serves, "health", every=0.005)

    def kill_service(self):
        """kill -9; not if it has ended by itself."""
        self.check_processes()
        self.service.kill()
        self.service.wait()

    def start_carts(self, port=None):
        """`port`: of a proxy before the service."""
        self.carts = self.start(
            "carts", "cart", "--floor", FLOOR, "--fleet", FLEET, "--pace", self.pace,
            "--seed", self.seed, "--url", f"ws://127.0.0.1:{port or self.port}/cart",
            "--report", self.path / "report.json", *self.cart_options)
        self.wait_for(lambda: self.connected() == len(self.homes), "all carts")

    def order(self, text):
        """An order to the person who stands by the carts (`tagline cart --person`)."""
        self.carts.stdin.write(f"{text}\n".encode())
        self.carts.stdin.flush()

    def check_processes(self):
        for process in (self.service, self.carts):
            if process is not None and process.poll() is not None:
                raise ByItself(f"a process ended with {process.returncode}\n{self.logs()}")

    def logs(self):
        return "\n".join(f"--- {log}\n{log.read_text(errors='replace')[-3000:]}"
                         for log in self.path.glob("*.log"))

    # ---- asking the service

    def get(self, path):
        """None if there is no answer."""
        try:
            status, answer = ask(self.port, "GET", path)
            return answer if status == 200 else None
        except NO_ANSWER:
            return None

    def serves(self):
        health = self.get("/api/health")
        return health is not None and health["status"] == "ok"

    def connected(self):
        return (self.get("/api/health") or {}).get("carts_connected")

    def wait_for(self, condition, what, every=0.05, seconds=None):
        """Until the condition holds: so long, or as long as the scenario has patience."""
        end = self.started + self.patience_s if seconds is None else time.monotonic() + seconds
        while time.monotonic() < end:
            if condition():
                return
            self.check_processes()
            time.sleep(every)
        self.fail(f"waited in vain for {what}\n{json.dumps(self.get('/api/carts'), indent=1)}\n"
                  f"{json.dumps(self.get('/api/jobs?limit=20'), indent=1)}\n{self.logs()}")

    def place_all(self):
        for cart, home in self.homes.items():
            status, answer = ask(self.port, "POST", f"/api/carts/{cart}/place", {"point": home})
            self.assertEqual(status, 200, answer)

    # ---- the rules

    def check_holdings(self):
        """No piece of track is held by two carts whose place is known, no job by two carts. (Pieces
        that conflict without being the same are checked by the service itself after every event:
        it would end with code 3.) Returns the carts, or None if there was no answer."""
        answer = self.get("/api/carts")
        if answer is None:
            return None
        holder, driver = {}, {}
        for cart in answer["carts"]:
            if cart["job"] is not None:
                other = driver.setdefault(cart["job"], cart["id"])
                self.assertEqual(other, cart["id"], f"two carts have job {cart['job']}")
            if cart["mode"] in UNSURE:
                continue
            for piece in cart["holds"]:
                other = holder.setdefault(piece, cart["id"])
                self.assertEqual(other, cart["id"], f"two carts hold {piece}: {answer}")
        return answer["carts"]

    def report(self):
        try:
            return json.loads((self.path / "report.json").read_text())
        except FileNotFoundError:
            return None

    def final_report(self):
        """Ends the carts, which write it once more then."""
        self.assertEqual(self.end(self.carts), 0)
        self.carts = None
        return self.report()

    def check_bodies(self, report, jobs):
        """What the bodies did against the (from, to) of the delivered jobs: nothing touched, and at
        every station exactly the loads of these jobs were taken on and given off."""
        self.assertEqual(report["body_contacts"], 0, report)
        self.assertGreater(report["least_gap_mm"], 0)
        self.assertEqual(report["handled_amiss"], 0, report)
        wanted = collections.Counter()
        for start, end in jobs:
            wanted[self.point_of[start], "on"] += 1
            wanted[self.point_of[end], "off"] += 1
        done = collections.Counter()
        for point, (on, off) in report["handled_at"].items():
            done[point, "on"] += on
            done[point, "off"] += off
        self.assertEqual(+done, +wanted, "loads handled by the bodies, and those of the jobs")
        self.assertEqual(report["handled"], 2 * len(jobs), report)

    def settle_accounts(self, customer):
        """At the end of a run: what was promised, what bodies did and what is stored must agree."""
        self.assertTrue(customer.look(thorough=True))
        self.assertEqual(customer.broken, [])
        customer.stop()
        report = self.final_report()
        self.assertEqual(self.end(self.service), 0)
        self.service = None
        self.check_bodies(report, [(wish.start, wish.end) for wish in customer.wishes])
        self.check_database([wish.key for wish in customer.wishes])
        return report

    def check_database(self, keys):
        """Read past the service, when it has ended: exactly one delivered job for each key, and its
        record says once that it was loaded and once that it was delivered."""
        database = self.path / "data" / "tagline.db"
        with contextlib.closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as db:
            rows = db.execute("SELECT key, state, COUNT(*) FROM jobs GROUP BY key, state").fetchall()
            self.assertEqual(sorted(rows), sorted((key, "delivered", 1) for key in keys))
            twice = db.execute(
                "SELECT job, state, COUNT(*) FROM job_events WHERE state IN ('loaded','delivered') "
                "GROUP BY job, state HAVING COUNT(*) > 1").fetchall()
            self.assertEqual(twice, [], "jobs recorded as loaded or delivered twice")
            self.assertEqual(db.execute("PRAGMA integrity_check").fetchall(), [("ok",)])


class WorksCase(Works, unittest.TestCase):
    def setUp(self):
        Works.setUp(self)
