"""The demo works over real sockets: the service in one process, five virtual carts in another, a
hundred jobs. All must be delivered once, none lost, and the carts' own physical truth must know of
no contact; also with the service killed in the middle, the carts driving on meanwhile."""

import json
import os
import pathlib
import random
import signal
import subprocess
import tempfile
import time
import unittest
import urllib.error
import urllib.request

ROOT = pathlib.Path(__file__).resolve().parents[3]
FLOOR = ROOT / "deploy" / "demo.floor.json"
FLEET = ROOT / "deploy" / "demo.fleet.json"
PACE = 50
JOBS = 100
PATIENCE_S = 600  # real time for one scenario


class Works(unittest.TestCase):
    def setUp(self):
        self.program = os.environ.get("TAGLINE_BIN")
        self.assertTrue(self.program, "TAGLINE_BIN must name the tagline program")
        self.folder = tempfile.TemporaryDirectory(prefix="tagline-works-")
        self.addCleanup(self.folder.cleanup)
        self.path = pathlib.Path(self.folder.name)
        self.port = 0
        self.started = time.monotonic()

    # ---- processes

    def start(self, name, *arguments):
        log = open(self.path / f"{name}.log", "ab")
        process = subprocess.Popen(
            [self.program, *map(str, arguments)], stdout=log, stderr=log, stdin=subprocess.DEVNULL)
        log.close()
        self.addCleanup(self.end, process)
        return process

    def end(self, process):
        if process.poll() is None:
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def start_service(self):
        port_file = self.path / "port"
        port_file.unlink(missing_ok=True)
        self.service = self.start(
            "service", "serve", "--floor", FLOOR, "--fleet", FLEET, "--data", self.path / "data",
            "--port", self.port, "--port-file", port_file, "--pace", PACE)
        self.wait_for(lambda: port_file.exists() and port_file.read_text().strip(), "the port")
        self.port = int(port_file.read_text())
        self.wait_for(lambda: self.get("/api/health")["status"] == "ok", "health")

    def start_carts(self):
        self.carts = self.start(
            "carts", "cart", "--floor", FLOOR, "--fleet", FLEET, "--pace", PACE, "--seed", 7,
            "--url", f"ws://127.0.0.1:{self.port}/cart", "--report", self.path / "report.json")
        self.wait_for(lambda: self.get("/api/health")["carts_connected"] == 5, "five carts")

    def logs(self):
        return "\n".join(f"--- {log.name}\n{log.read_text()[-3000:]}"
                         for log in self.path.glob("*.log"))

    # ---- the service

    def call(self, method, path, body=None, key=None):
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", method=method)
        if body is not None:
            request.data = json.dumps(body).encode()
            request.add_header("Content-Type", "application/json")
        if key:
            request.add_header("Idempotency-Key", key)
        with urllib.request.urlopen(request, timeout=10) as answer:
            return json.load(answer)

    def get(self, path):
        try:
            return self.call("GET", path)
        except (OSError, urllib.error.URLError):
            return {"status": None, "carts_connected": None}

    def wait_for(self, condition, what):
        while time.monotonic() - self.started < PATIENCE_S:
            if condition():
                return
            for process in (getattr(self, "service", None), getattr(self, "carts", None)):
                if process is not None and process.poll() is not None:
                    self.fail(f"a process ended with {process.returncode}\n{self.logs()}")
            time.sleep(0.05)
        trouble = [cart for cart in self.get("/api/carts").get("carts", [])]
        self.fail(f"waited in vain for {what}\n{json.dumps(trouble, indent=1)}\n{self.logs()}")

    def place_all(self):
        for cart in json.loads(FLEET.read_text())["carts"]:
            self.call("POST", f"/api/carts/{cart['id']}/place", {"point": cart["home"]})

    def ask_jobs(self):
        stations = [station["id"] for station in self.get("/api/floor")["stations"]]
        choice = random.Random(11)
        ids = []
        for number in range(JOBS):
            start, end = choice.sample(stations, 2)
            job = self.call("POST", "/api/jobs", {"from": start, "to": end}, key=f"job-{number}")
            ids.append(job["id"])
        self.assertEqual(len(set(ids)), JOBS)
        return ids

    def delivered(self):
        answer = self.get("/api/jobs?state=delivered&limit=1000")
        return [job["id"] for job in answer.get("jobs", [])]

    def check_end(self, ids):
        self.assertEqual(sorted(self.delivered()), sorted(ids), "each job delivered, none twice")
        time.sleep(1.5)  # the report is written every second
        report = json.loads((self.path / "report.json").read_text())
        self.assertEqual(report["body_contacts"], 0, report)
        self.assertGreater(report["least_gap_mm"], 0)
        # Every job is one load taken on and one given off, in the carts' own counting.
        self.assertEqual(report["handled"], 2 * JOBS, report)
        print(f"{JOBS} jobs in {report['seconds']:.0f} s of the works, "
              f"{time.monotonic() - self.started:.0f} s real; {report['distance_m']:.0f} m driven, "
              f"least gap {report['least_gap_mm']:.0f} mm, slipped {report['slipped_s']} s")

    # ---- scenarios

    def test_hundred_jobs(self):
        self.start_service()
        self.start_carts()
        self.place_all()
        ids = self.ask_jobs()
        self.wait_for(lambda: len(self.delivered()) == JOBS, f"{JOBS} deliveries")
        self.check_end(ids)

    def test_hundred_jobs_with_a_killed_service(self):
        self.start_service()
        self.start_carts()
        self.place_all()
        ids = self.ask_jobs()
        self.wait_for(lambda: len(self.delivered()) >= JOBS // 2, "half of the deliveries")
        self.service.send_signal(signal.SIGKILL)
        self.service.wait()
        time.sleep(1)  # the carts come to the ends of their authorities
        before = time.monotonic()
        self.start_service()
        # Nobody acts as a person from here on: the carts greet, and what they say fits.
        self.wait_for(lambda: len(self.delivered()) == JOBS, f"{JOBS} deliveries")
        print(f"{time.monotonic() - before:.0f} s real from the restart to the last delivery")
        self.check_end(ids)


if __name__ == "__main__":
    unittest.main()
