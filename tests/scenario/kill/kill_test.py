"""Kill -9 of the service again and again at random moments under load, while the virtual carts,
processes of their own, drive on. After every restart and at the end: no promised job lost, none
done twice, no contact of bodies, nothing held twice, and the carts move again without a person.

A kill stops the process, not the machine: what the system had taken to write still reaches the
disk. Loss of power is tested against the store alone (tests/crash).

TAGLINE_KILLS: how many kills, 30 unless said. TAGLINE_SEED: start of the random numbers.
TAGLINE_PACE: 50 unless said. TAGLINE_KEEP: a folder where logs and data are left."""

import json
import os
import pathlib
import random
import socket
import sys
import time
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "sockets"))

from customer import Customer  # noqa: E402
from works import NO_ANSWER, UNSURE, WorksCase  # noqa: E402

KILLS = int(os.environ.get("TAGLINE_KILLS", "30"))
SEED = int(os.environ.get("TAGLINE_SEED", "1"))
PACE = int(os.environ.get("TAGLINE_PACE", "50"))
# Left alone after so many kills, the works must deliver again: nobody acts as a person.
CALM_EVERY = 50
CALM_DELIVERIES = 3
CALM_S = 60


def part(values, share):
    """The value below which so great a share lies, ms."""
    values = sorted(values)
    return 1000 * values[min(len(values) - 1, int(share * len(values)))]


class Kill(WorksCase):
    seed = SEED
    pace = PACE
    patience_s = 240 + 10 * KILLS

    def setUp(self):
        super().setUp()
        self.chance = random.Random(f"kills {SEED}")
        self.serves_after, self.calm_took = [], []
        self.kinds = dict.fromkeys(("starting", "recovering", "driving", "committing"), 0)
        self.promised_at_the_kill = 0
        self.doubts = {}  # what a cart was when a person would have been needed: how often seen

    def test_kills(self):
        self.start_service()
        self.start_carts()
        self.place_all()
        flows = [(flow["from"], flow["to"], flow["per_hour"]) for flow in self.demand]
        self.customer = Customer(self.port, flows, SEED, goal=10**9)
        self.customer.start()
        self.addCleanup(self.customer.stop)
        self.wait_for(lambda: self.customer.delivered() > 0, "the first delivery")
        for number in range(1, KILLS + 1):
            self.live_and_die()
            self.check_promises()
            if number % CALM_EVERY == 0 or number == KILLS:
                self.calm()
        self.finish()

    # ---- one life of the service

    def live_and_die(self):
        """Kills the service that runs, at a moment of one of the kinds; leaves a new one starting
        or serving, about to meet the next call."""
        kind = self.chance.choices(list(self.kinds), [2, 2, 3, 3])[0]
        self.kinds[kind] += 1
        if kind == "starting":  # perhaps before it listens, perhaps while it loads or greets
            time.sleep(self.chance.uniform(0, 0.12))
        else:
            self.wait_for(self.serves, "health", every=0.005, seconds=30)
            if kind == "recovering":  # the carts greet one after the other
                time.sleep(self.chance.uniform(0, 0.3))
            else:
                time.sleep(self.chance.uniform(0.2, 1.5))
                self.look_at_carts()
        if kind == "committing":
            self.ask_and_kill()
        else:
            self.kill_service()
        began = time.monotonic()
        self.spawn_service()
        if self.chance.random() < 0.6:
            self.wait_for(self.serves, "health", every=0.002, seconds=30)
            self.serves_after.append(time.monotonic() - began)

    def ask_and_kill(self):
        """Sends a wish and kills the service before it is stored, while it is being stored, between
        that and the answer, or as soon as the answer is there. An answer that came counts."""
        wish = self.customer.new_wish()
        body = json.dumps(wish.body()).encode()
        answer = b""
        try:
            with socket.create_connection(("127.0.0.1", self.port), timeout=5) as link:
                link.sendall(b"POST /api/jobs HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n"
                             b"Content-Type: application/json\r\nIdempotency-Key: " +
                             wish.key.encode() + b"\r\nContent-Length: " +
                             str(len(body)).encode() + b"\r\n\r\n" + body)
                if self.chance.random() < 0.5:
                    answer = link.recv(65536)
                else:
                    time.sleep(self.chance.uniform(0, 0.004))
                self.kill_service()
                while data := link.recv(65536):
                    answer += data
        except NO_ANSWER:
            pass
        if self.service.poll() is None:
            self.kill_service()
        self.take_answer(wish, answer)

    def take_answer(self, wish, answer):
        head, _, body = answer.partition(b"\r\n\r\n")
        if head.startswith((b"HTTP/1.1 201", b"HTTP/1.1 200")):
            try:
                self.customer.note_promise(wish, json.loads(body))
                self.promised_at_the_kill += 1
                return
            except ValueError:  # cut off
                pass
        self.customer.hand_over(wish)

    def look_at_carts(self):
        for cart in self.check_holdings() or []:
            if cart["mode"] in UNSURE | {"needs_release"} and cart["connected"]:
                self.doubts[cart["mode"]] = self.doubts.get(cart["mode"], 0) + 1

    # ---- the rules

    def check_promises(self):
        self.assertEqual(self.customer.broken, [])
        report = self.report()
        self.assertEqual((report["body_contacts"], report["handled_amiss"]), (0, 0), report)

    def calm(self):
        """Left alone, the service comes back, every cart greets, none needs a person, and loads
        are delivered again."""
        began = time.monotonic()
        self.wait_for(self.serves, "health", every=0.005, seconds=30)
        before = self.customer.delivered()
        self.wait_for(lambda: self.connected() == len(self.homes), "the carts", seconds=CALM_S)
        self.wait_for(lambda: self.customer.delivered() >= before + CALM_DELIVERIES,
                      f"{CALM_DELIVERIES} deliveries after a restart", seconds=CALM_S)
        self.calm_took.append(time.monotonic() - began)
        self.assertTrue(self.customer.look(thorough=True))
        for cart in self.check_holdings():
            self.assertNotIn(cart["mode"], UNSURE | {"needs_release"}, cart)
        self.check_promises()
        print(f"{sum(self.kinds.values())} kills in {time.monotonic() - self.started:.0f} s, "
              f"{self.customer.delivered()} delivered", flush=True)

    def finish(self):
        self.customer.goal = 0  # no new wishes, but those without an answer are asked for again
        self.wait_for(lambda: self.customer.all_promised() and self.customer.open() == 0,
                      "the last deliveries", every=0.2)
        self.assertTrue(self.customer.look(thorough=True))
        self.check_promises()
        self.customer.stop()
        report = self.final_report()
        self.assertEqual(self.end(self.service), 0)
        self.service = None
        self.assertEqual(sum(self.kinds.values()), KILLS)
        wishes = self.customer.wishes
        self.check_bodies(report, [(wish.start, wish.end) for wish in wishes])
        self.check_database([wish.key for wish in wishes])
        print(f"{KILLS} kills ({', '.join(f'{n} {kind}' for kind, n in self.kinds.items())}), "
              f"seed {SEED}, pace {PACE}: {time.monotonic() - self.started:.0f} s real, "
              f"{report['seconds'] / 3600:.1f} h of the works, {len(wishes)} jobs promised and "
              f"delivered once; {self.customer.unanswered} askings without an answer, "
              f"{self.promised_at_the_kill} promises at the moment of the kill, "
              f"{self.customer.asked_again} needless repeats; serves again after p50 "
              f"{part(self.serves_after, .5):.0f} ms, p99 {part(self.serves_after, .99):.0f} ms, "
              f"most {part(self.serves_after, 1):.0f} ms ({len(self.serves_after)} restarts); "
              f"{CALM_DELIVERIES} deliveries after at most {max(self.calm_took):.1f} s "
              f"({len(self.calm_took)} times); least gap {report['least_gap_mm']:.0f} mm, slipped "
              f"{report['slipped_s']:.0f} s; seen while driving in doubt or held: "
              f"{self.doubts or 'never'}")


if __name__ == "__main__":
    unittest.main()
