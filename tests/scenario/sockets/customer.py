"""Somebody who asks for jobs all the time and never gives up: every job has an idempotency key,
and where no answer came it is asked for again with the same key. Remembers what was promised and
watches what becomes of it."""

import random
import threading
import time

from works import FINAL, NO_ANSWER, ask


LOOK_EVERY_S = 0.25


class Wish:
    """One job wanted."""

    def __init__(self, key, start, end):
        self.key, self.start, self.end = key, start, end
        self.id = None  # once promised
        self.state = None  # last seen
        self.ended_at = None

    def body(self):
        return {"from": self.start, "to": self.end}


class Customer:
    """Runs on a thread of its own from start() until `goal` jobs are asked for or stop(). Broken
    promises are collected in `broken`."""

    def __init__(self, port, flows, seed, goal, most_open=12, per_second=None,
                 ask_port=None):
        """`flows`: (from, to, weight). Jobs are asked for as soon as fewer than `most_open` are
        open or, with `per_second`, at random moments at that mean rate (Poisson) besides. `ask_port`:
        where jobs are asked for, if there is a proxy before the service."""
        self.port, self.ask_port = port, ask_port or port
        self.flows, self.goal = flows, goal
        self.most_open, self.per_second = most_open, per_second
        self.chance = random.Random(f"customer {seed}")
        self.wishes = []
        self.unsure = []  # wishes sent by others without waiting for the answer
        self.broken = []
        self.asked = self.unanswered = self.asked_again = 0
        self.lock = threading.Lock()
        self.looking = threading.Lock()  # what is seen is compared before anybody looks again
        self.stopping = threading.Event()
        self.thread = threading.Thread(target=self.run, daemon=True)

    def start(self):
        self.thread.start()

    def stop(self):
        self.stopping.set()
        self.thread.join()

    # ---- asking

    def new_wish(self):
        flow = self.chance.choices(self.flows, [weight for _, _, weight in self.flows])[0]
        with self.lock:
            wish = Wish(f"job-{len(self.wishes)}", flow[0], flow[1])
            self.wishes.append(wish)
        return wish

    def hand_over(self, wish):
        """Another has sent this wish once and heard no answer; it will be asked for again."""
        with self.lock:
            self.unsure.append(wish)

    def open(self):
        with self.lock:
            return sum(1 for wish in self.wishes if wish.state not in FINAL)

    def all_promised(self):
        with self.lock:
            return not self.unsure and all(wish.id is not None for wish in self.wishes)

    def promise(self, wish):
        """Asks until there is an answer."""
        while not self.stopping.is_set():
            self.asked += 1
            try:
                status, job = ask(self.ask_port, "POST", "/api/jobs", wish.body(), wish.key)
            except NO_ANSWER:
                self.unanswered += 1
                time.sleep(self.chance.uniform(0.01, 0.05))
                continue
            if status in (200, 201):
                self.note_promise(wish, job)
                return
            if status != 503:
                self.broken.append(f"{wish.key}: answered {status} {job}")
                return
            time.sleep(0.02)

    def note_promise(self, wish, job):
        if wish.id is not None and wish.id != job["id"]:
            self.broken.append(f"{wish.key}: was job {wish.id}, now is {job['id']}")
        if (job["from"], job["to"]) != (wish.start, wish.end):
            self.broken.append(f"{wish.key}: got another's job {job}")
        wish.id = job["id"]
        if wish.state is None:
            wish.state = job["state"]

    def run(self):
        due = looked = time.monotonic()
        while not self.stopping.is_set():
            with self.lock:
                unsure, self.unsure = self.unsure, []
            for wish in unsure:
                self.promise(wish)
            if len(self.wishes) < self.goal and time.monotonic() >= due and \
                    self.open() < self.most_open:
                wish = self.new_wish()
                self.promise(wish)
                if self.per_second:
                    due = max(due, time.monotonic() - 5) + self.chance.expovariate(self.per_second)
                if self.chance.random() < 0.05:  # a repeat, though it had been answered
                    self.asked_again += 1
                    self.promise(wish)
            else:
                time.sleep(0.05)
            if time.monotonic() > looked + LOOK_EVERY_S:
                self.look()
                looked = time.monotonic()

    # ---- watching

    def look(self, thorough=False):
        """Compares what is there with what was promised; every open wish if `thorough`. False if
        there was no answer."""
        with self.looking:
            return self.look_and_compare(thorough)

    def look_and_compare(self, thorough):
        with self.lock:
            known = {wish.id: wish for wish in self.wishes if wish.id is not None}
        try:
            status, answer = ask(self.port, "GET", "/api/jobs?limit=200")
            if status != 200:
                return False
            listed = {job["id"]: job for job in answer["jobs"]}
            for number, wish in known.items():
                if number not in listed and (wish.state not in FINAL or thorough):
                    status, job = ask(self.port, "GET", f"/api/jobs/{number}")
                    if status == 404:
                        self.broken.append(f"job {number} ({wish.key}) was promised and is lost")
                        job = {"state": "lost", "ended_at": None}
                    listed[number] = job
        except NO_ANSWER:
            return False
        for number, wish in known.items():
            if number in listed:
                self.compare(wish, listed[number])
        return True

    def compare(self, wish, job):
        if wish.state in FINAL and (wish.state, wish.ended_at) != (job["state"], job["ended_at"]):
            self.broken.append(f"job {wish.id} had ended as {wish.state} at {wish.ended_at} and now "
                               f"is {job['state']}, {job['ended_at']}")
        if job["state"] in FINAL:
            wish.state, wish.ended_at = job["state"], job["ended_at"]
        elif wish.state not in FINAL:
            wish.state = job["state"]

    def delivered(self):
        with self.lock:
            return sum(1 for wish in self.wishes if wish.state == "delivered")
