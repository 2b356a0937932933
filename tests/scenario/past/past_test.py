"""The past as the service works it out again (/api/past) against what it said live: carts, jobs,
alarms and reasons at moments recorded while virtual carts drove, were stopped, and had track taken
from them; back and forth, as differences, and after the service was killed. TAGLINE_BIN names the
program."""

import base64
import concurrent.futures
import datetime
import os
import pathlib
import socket
import sys
import time
import unittest
import json
import urllib.parse

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "sockets"))

from works import WorksCase, ask  # noqa: E402 (it is another scenario's)

KEPT = ("carts", "jobs", "alarms", "all_stopped", "stations", "downtimes", "zones")
# A board is told an expected moment anew when it has moved by that much (server/net/API.md).
TOLD_ANEW = datetime.timedelta(seconds=10)
EXPECTED = ("expected_pickup", "expected_delivery")


def moment(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00"))


def same_job(a, b):
    """Equal, but for expected moments, which are about so."""
    for key in EXPECTED:
        if (a[key] is None) != (b[key] is None):
            return False
        if a[key] and abs(moment(a[key]) - moment(b[key])) > TOLD_ANEW:
            return False
    return {**a, **dict.fromkeys(EXPECTED)} == {**b, **dict.fromkeys(EXPECTED)}


def snapshot(port):
    """The board as a new live link is told it, with the service's time (RFC 6455, one frame)."""
    with socket.create_connection(("127.0.0.1", port), timeout=10) as link:
        key = base64.b64encode(os.urandom(16)).decode()
        link.sendall((f"GET /live HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\n"
                      f"Connection: Upgrade\r\nSec-WebSocket-Key: {key}\r\n"
                      "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Protocol: tagline.live.1\r\n"
                      "\r\n").encode())
        stream = link.makefile("rb")
        while stream.readline() != b"\r\n":
            pass
        length = stream.read(2)[1] & 127
        if length > 125:
            length = int.from_bytes(stream.read(2 if length == 126 else 8), "big")
        return json.loads(stream.read(length))


def changed(cart, news):
    """A cart of which only what differs was told (server/net/API.md, live updates)."""
    cart = {**cart, **news}
    first = cart.pop("path_from", None)
    if first is not None:
        cart["path"] = [step for step in cart["path"] if step["step"] >= first]
    return cart


def applied(board, message):
    """A change on a board, as a page applies it."""
    board = dict(board)
    for key in ("carts", "jobs", "stations"):
        if key in message:
            known = {thing["id"]: thing for thing in board[key]}
            for thing in message[key]:
                known[thing["id"]] = changed(known[thing["id"]], thing) if key == "carts" else thing
            board[key] = list(known.values())
    board.update((key, message[key]) for key in
                 ("alarms", "all_stopped", "downtimes", "zones") if key in message)
    return board


class Past(WorksCase):
    seed = 23
    pace = 1

    def setUp(self):
        super().setUp()
        self.recorded = []

    def past(self, **asked):
        """(status, answer); asked again as long as it is being worked out."""
        query = urllib.parse.urlencode(asked)
        for _ in range(120):
            status, answer = ask(self.port, "GET", f"/api/past?{query}", timeout=30)
            if status != 503:
                return status, answer
            time.sleep(0.25)
        self.fail(f"still 503: {answer}")

    def board(self, at):
        status, answer = self.past(at=at)
        self.assertEqual(status, 200, answer)
        self.assertEqual(len(answer["messages"]), 1)
        return answer["messages"][0]

    def post(self, path, body=None):
        status, answer = ask(self.port, "POST", path, body)
        self.assertLess(status, 300, answer)

    def begin(self):
        self.start_service()
        self.start_carts()
        self.place_all()
        stations = list(self.point_of)
        for k in range(6):
            self.post("/api/jobs", {"from": stations[k % len(stations)],
                                    "to": stations[(k + 2) % len(stations)]})

    def record(self, what, count, seconds=60):
        """Moments at which nothing changed for a while after, so that what is on the board then is
        all that had happened: an event is on the board only once it is on disk."""
        end = time.monotonic() + seconds
        found = 0
        while found < count and time.monotonic() < end:
            first = snapshot(self.port)
            carts, jobs = self.get("/api/carts"), self.get("/api/jobs")
            time.sleep(1.2)
            then = snapshot(self.port)
            if all(first[key] == then[key] for key in KEPT):
                self.assertEqual(carts["carts"], first["carts"])
                self.assertEqual(jobs["jobs"], first["jobs"])
                self.recorded.append(first)
                found += 1
            else:
                time.sleep(0.1)
        self.assertGreater(found, 0, f"no quiet moment while {what}")
        print(f"{found} moments while {what}")

    def check_all(self, boards):
        for was in boards:
            now = self.board(was["time"])
            self.assertEqual(now["time"], was["time"])
            for key in KEPT:
                if key != "jobs":
                    self.assertEqual(now[key], was[key], f"{key} at {was['time']}")
            self.assertEqual([job["id"] for job in now["jobs"]], [job["id"] for job in was["jobs"]])
            for a, b in zip(now["jobs"], was["jobs"]):
                self.assertTrue(same_job(a, b), f"at {was['time']}: {a} and live {b}")

    def test_it_is_what_was_said_live(self):
        self.begin()
        self.record("carts drive", 4)
        self.post("/api/segments/S1/down", {"reason": "new tape"})
        self.record("a segment is closed", 2)
        self.post("/api/stop")
        time.sleep(1)
        self.record("all are stopped", 2)
        self.post("/api/release")
        self.record("they drive again", 2)
        driving = [b for b in self.recorded if any(c["mode"] == "driving" for c in b["carts"])]
        reasons = [b for b in self.recorded if any(c["why"] for c in b["carts"])]
        self.assertTrue(driving and reasons, "something happened")
        self.assertTrue(any(b["all_stopped"] and b["alarms"] for b in self.recorded))
        self.assertTrue(any(b["downtimes"] for b in self.recorded))
        self.wait_for(self.all_kept, "the journal is on disk", seconds=30)
        self.check_all(self.recorded)  # onward
        self.check_all(self.recorded[::-1])  # back

        # As differences from board to board, and each the same as when it is asked for alone.
        # An answer may end early: then one asks on from its end.
        start, last, boards = self.recorded[0]["time"], self.recorded[-1]["time"], 0
        while moment(start) + datetime.timedelta(seconds=1) <= moment(last):
            status, answer = self.past(**{"from": start, "to": last, "step": 1})
            self.assertEqual(status, 200, answer)
            self.assertEqual(answer["messages"][0]["type"], "snapshot")
            self.assertGreater(len(answer["messages"]), 1)
            self.assertEqual(answer["until"], answer["messages"][-1]["time"])
            board = answer["messages"][0]
            for message in answer["messages"][1:]:
                if message["type"] == "change":
                    board = applied(board, message)
            alone = self.board(answer["until"])
            self.assertEqual(alone["carts"], board["carts"], answer["until"])
            self.assertEqual(alone["alarms"], board["alarms"])
            boards += len(answer["messages"]) - 1
            start = answer["until"]
        self.assertGreater(boards, 5)
        self.assertIn("all_stopped", [alarm["kind"] for alarm in answer["alarms"]])

        # What is no question, and what nobody knows.
        for wrong in ("at=yesterday", "from=2026-01-01T00:00:00Z", "at=2026-01-01T00:00:00",
                      "from=2026-01-01T00:00:00Z&to=2026-01-01T01:00:00Z&step=1", "x=1",
                      "at=2026-01-01T00:00:00Z&at=2026-01-01T00:00:00Z"):
            self.assertEqual(ask(self.port, "GET", f"/api/past?{wrong}")[0], 400, wrong)
        self.assertEqual(self.past(at="2001-01-01T00:00:00Z")[0], 404)
        self.assertEqual(ask(self.port, "POST", "/api/past", {})[0], 405)
        self.assertEqual(self.get("/api/past/floor?run=1")["points"],
                         self.get("/api/floor")["points"])
        self.assertEqual(ask(self.port, "GET", "/api/past/floor?run=9")[0], 404)

    def all_kept(self):
        runs = self.get("/api/past")["runs"]
        return moment(runs[-1]["to"]) > moment(self.recorded[-1]["time"])

    def test_back_and_forth_over_a_long_run(self):
        self.pace = 60  # the run is long enough for copies on the way to be kept
        self.begin()
        while (runs := self.get("/api/past")["runs"]) is not None:
            began, until = moment(runs[0]["from"]), moment(runs[0]["to"])
            if until - began > datetime.timedelta(minutes=22):
                break
            time.sleep(0.5)
        step = (until - began) / 12
        moments = [(began + step * k).isoformat() for k in range(1, 12)]
        onward = [self.board(at) for at in moments]
        self.assertGreater(len({json.dumps(board["carts"]) for board in onward}), 5)
        for k in (10, 0, 6, 5, 9, 2, 3, 1, 8, 4, 7):
            self.assertEqual(self.board(moments[k]), onward[k], moments[k])

    def test_the_run_before_a_kill_and_the_gap(self):
        self.begin()
        self.record("carts drive", 2)
        time.sleep(1)
        self.kill_service()
        time.sleep(0.5)
        self.start_service()
        self.check_all(self.recorded)
        runs = self.get("/api/past")["runs"]
        self.assertEqual([run["run"] for run in runs], [1, 2])
        self.assertIsNone(runs[0]["ending"])
        gap = moment(runs[0]["to"]) + (moment(runs[1]["from"]) - moment(runs[0]["to"])) / 2
        status, answer = self.past(at=gap.isoformat())
        self.assertEqual((status, answer["span"]["run"]), (200, 1))
        self.assertEqual(self.past(at=runs[1]["from"])[1]["span"]["run"], 2)

    def test_many_who_look_are_told_to_come_back_and_the_rest_goes_on(self):
        self.begin()
        self.record("carts drive", 1)
        at = self.recorded[0]["time"]
        with concurrent.futures.ThreadPoolExecutor(40) as many:
            asked = [many.submit(ask, self.port, "GET", f"/api/past?at={at}", timeout=30)
                     for _ in range(40)]
            for _ in range(10):
                self.assertEqual(ask(self.port, "GET", "/api/health", timeout=2)[0], 200)
            answers = [one.result() for one in asked]
        statuses = [status for status, _ in answers]
        self.assertIn(200, statuses)
        self.assertIn(503, statuses)
        self.assertEqual(set(statuses), {200, 503})
        self.assertTrue(all(answer["detail"] for status, answer in answers if status == 503))
        # With questions open it stops in order, and at once.
        with concurrent.futures.ThreadPoolExecutor(4) as some:
            for _ in range(4):
                some.submit(self.get, f"/api/past?at={at}")
            began = time.monotonic()
            self.assertEqual(self.end(self.service), 0)
            self.service = None
            self.assertLess(time.monotonic() - began, 9)


if __name__ == "__main__":
    unittest.main()
