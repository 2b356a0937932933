"""Days of the works over real sockets at increased pace, at the floor's own demand, with all that
goes wrong with carts: uneven speeds and odometers, tags missed, things in the way, links dropped.
Somebody watches the board, and a person comes to carts that need one. All jobs are delivered once,
no bodies touch, and the service's memory and descriptors stay flat.

Flat: of the samples taken at even times, the median memory (RSS) of the last quarter is at most 5 %
above that of the second quarter (the first is warm-up), and no more descriptors are open; in a
quarter's samples a request or a connection more may be seen, so its most may be 3 above, and the
median of a run of less than 6 hours 1. (The
service keeps what ended in the last 24 hours and the last 1,000 ended jobs: a day at 40 jobs an hour
is just when these are full.)

TAGLINE_SOAK_HOURS: hours of the works, 0.5 unless said. TAGLINE_SOAK_ALLOWED: part by which memory
may grow, 0.05 from 6 hours on; a run too short to be past its warm-up gets 0.25. TAGLINE_SEED,
TAGLINE_PACE (50), TAGLINE_KEEP as in kill_test.py."""

import os
import pathlib
import socket
import statistics
import sys
import threading
import time
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "sockets"))

from customer import Customer  # noqa: E402
from person import Person  # noqa: E402
from works import WorksCase  # noqa: E402

HOURS = float(os.environ.get("TAGLINE_SOAK_HOURS", "0.5"))
ALLOWED = float(os.environ.get("TAGLINE_SOAK_ALLOWED", "0.05" if HOURS >= 6 else "0.25"))
SEED = int(os.environ.get("TAGLINE_SEED", "1"))
PACE = int(os.environ.get("TAGLINE_PACE", "50"))
SAMPLES = 400
MORE_DESCRIPTORS = 3


class Watcher:
    """A board that stays open: it reads what comes, never answers a ping, and so is cut off every
    15 s and comes back."""

    def __init__(self, port):
        self.port, self.bytes, self.times = port, 0, 0
        self.stopping = False
        self.thread = threading.Thread(target=self.run, daemon=True)
        self.thread.start()

    def run(self):
        while not self.stopping:
            try:
                with socket.create_connection(("127.0.0.1", self.port), timeout=20) as link:
                    link.sendall(b"GET /live HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\n"
                                 b"Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
                                 b"Sec-WebSocket-Key: dGFnbGluZSBzb2FrIHRlcw==\r\n"
                                 b"Sec-WebSocket-Protocol: tagline.live.1\r\n\r\n")
                    self.times += 1
                    while not self.stopping and (data := link.recv(65536)):
                        self.bytes += len(data)
            except OSError:
                time.sleep(0.2)

    def stop(self):
        self.stopping = True
        self.thread.join()


class Soak(WorksCase):
    seed = SEED
    pace = PACE
    length_s = HOURS * 3600 / PACE
    patience_s = 300 + 1.5 * length_s
    cart_options = ("--miss-rate", "0.02", "--stall-rate", "1", "--drop-rate", "2", "--person")

    def sample(self):
        folder = pathlib.Path(f"/proc/{self.service.pid}")
        memory = next(int(line.split()[1]) for line in (folder / "status").read_text().splitlines()
                      if line.startswith("VmRSS"))
        data = sum(file.stat().st_size for file in (self.path / "data").iterdir()
                   if file.name.startswith("tagline.db"))
        return memory, len(os.listdir(folder / "fd")), data

    def test_soak(self):
        self.start_service()
        self.start_carts()
        self.place_all()
        person, watcher = Person(self), Watcher(self.port)
        self.addCleanup(watcher.stop)
        flows = [(flow["from"], flow["to"], flow["per_hour"]) for flow in self.demand]
        customer = Customer(self.port, flows, SEED, goal=10**9, most_open=60,
                            per_second=sum(flow[2] for flow in flows) * PACE / 3600)
        customer.start()
        self.addCleanup(customer.stop)
        begin = told = time.monotonic()
        samples = []
        while (now := time.monotonic()) < begin + self.length_s:
            self.round(person, customer)
            if now >= begin + len(samples) * self.length_s / SAMPLES:
                samples.append(self.sample())
            if now > told + 60:
                told = now
                print(f"{(now - begin) * PACE / 3600:.1f} h: {customer.delivered()} delivered, "
                      f"{customer.open()} open, helped {person.helped}, {samples[-1]}", flush=True)
            time.sleep(0.2)
        customer.goal = 0
        while customer.open():
            self.wait_for(lambda: True, "")
            if time.monotonic() > self.started + self.patience_s:
                self.wait_for(lambda: False, "the last deliveries", seconds=0)
            self.round(person, customer)
            time.sleep(0.2)
        watcher.stop()
        self.finish(customer, person, watcher, samples)

    def round(self, person, customer):
        self.check_processes()
        person.look(self.check_holdings() or [])
        report = self.report()
        self.assertEqual((report["body_contacts"], report["handled_amiss"]), (0, 0), report)
        self.assertEqual(customer.broken, [])

    def finish(self, customer, person, watcher, samples):
        report = self.settle_accounts(customer)
        quarter = len(samples) // 4
        second, last = samples[quarter:2 * quarter], samples[3 * quarter:]
        memory = [statistics.median(memory for memory, _, _ in part) for part in (second, last)]
        open_files = [max(files for _, files, _ in part) for part in (second, last)]
        usual_files = [statistics.median(files for _, files, _ in part) for part in (second, last)]
        print(f"{HOURS} h, seed {SEED}, pace {PACE}: {time.monotonic() - self.started:.0f} s real; "
              f"{len(customer.wishes)} jobs delivered once; {report['dropped']} links dropped, "
              f"person came {person.helped or 'never'}, watcher connected {watcher.times} times and "
              f"read {watcher.bytes / 1e6:.1f} MB; RSS median of quarters 2 and 4 {memory} KiB "
              f"({memory[1] / memory[0] - 1:+.1%}), first {samples[0][0]}, most "
              f"{max(sample[0] for sample in samples)}; descriptors {usual_files}, most "
              f"{open_files}; database {samples[0][2]} to {samples[-1][2]} bytes "
              f"({(samples[-1][2] - samples[quarter][2]) / HOURS / 750:.1f} kB an hour); least gap "
              f"{report['least_gap_mm']:.0f} mm, slipped {report['slipped_s']:.0f} s", flush=True)
        self.assertLessEqual(memory[1], memory[0] * (1 + ALLOWED), "memory grows")
        # In a short run one more may be a request that is mostly under way when somebody looks; in a
        # long one whatever a dropped link leaves behind has come together.
        more = 0 if HOURS >= 6 else 1
        self.assertLessEqual(usual_files[1], usual_files[0] + more, "descriptors grow")
        self.assertLessEqual(open_files[1], open_files[0] + MORE_DESCRIPTORS, "descriptors grow")


if __name__ == "__main__":
    unittest.main()
