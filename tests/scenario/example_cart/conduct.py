"""Judges a cart by what was heard on its link (listener.py): does it keep the rules of
protocol/README.md? Knows nothing of how the cart is made."""

GRACE_S = 0.25  # from a message passed on to the cart's having heeded it, on a busy machine


class Conduct:
    """Follows one cart's record; `faults` lists every broken rule with its place."""

    def __init__(self, record):
        self.faults = []
        self.handled = []  # (step, what), each done once
        self.read_steps = []
        self.granted = {}  # step -> point, from all authorities since the last reset
        self.until = 0
        self.step = 0  # of the last read heard
        self.passed = 0  # the same, or farther by what the cart said when it connected again
        self.stopped_at = None
        self.stopped_at_cart = None
        self.stops = self.links = 0
        self._phase = None  # of the link: "opened", "greeted", "welcomed"
        self._sent = {}  # seq -> frame
        self._acked = 0
        self._spoke_at = self._passed_at = None
        self._welcomed_at = 0
        self._owed = []  # kept messages that must come before anything new
        for self._line, said in enumerate(record):
            self._now = said.at
            getattr(self, f"_{said.who}")(said.frame)

    def _fault(self, what):
        self.faults.append(f"line {self._line}: {what}")

    def unacknowledged(self):
        return [seq for seq, frame in self._sent.items()
                if seq > self._acked and frame["type"] != "state"]

    # ---- the link

    def _link(self, frame):
        self._phase = "opened" if frame["link"] == "open" else None
        self._spoke_at = None
        self.links += frame["link"] == "open"

    # ---- what the service says

    def _service(self, frame):
        kind = frame["type"]
        if kind in ("ack", "welcome"):
            self._acked = max(self._acked, frame["seq"])
        if kind == "welcome":
            self._phase, self._welcomed_at = "welcomed", self._now
            self._owed = sorted(self.unacknowledged())
        elif kind == "reset":
            self.granted, self.until, self.step, self.passed = {}, 0, 0, 0
            self._passed_at = None
        elif kind == "stop" and self.stopped_at is None:
            self.stopped_at = self._now
            self.stops += 1
        elif kind == "release":
            self.stopped_at = None
        elif kind == "authority":
            points = frame["points"]
            if self.passed and (points[0]["step"] > self.passed or points[-1]["step"] < self.until):
                return  # an old one
            self.step = self.step or points[0]["step"]
            self.passed = self.passed or self.step
            self.until = points[-1]["step"]
            for point in points:
                self.granted[point["step"]] = {**self.granted.get(point["step"], {}), **point}

    # ---- what the cart says

    def _cart(self, frame):
        if self._spoke_at is not None and self._now - self._spoke_at > 5 + GRACE_S:
            self._fault(f"silent for {self._now - self._spoke_at:.1f} s")
        self._spoke_at = self._now
        if frame["type"] == "hello":
            if self._phase != "opened":
                self._fault("a hello that isn't the first message")
            self._phase = "greeted"
            if not self.step <= frame["step"] <= frame["until"] <= self.until:
                self._fault(f"says step {frame['step']}, until {frame['until']}; it has read "
                            f"{self.step} and its authority ends at {self.until}")
            self.passed = frame["step"]
            return
        if self._phase != "welcomed":
            self._fault("a message before the welcome")
        seq = frame["seq"]
        if self._owed:
            if seq != self._owed.pop(0):
                self._fault(f"seq {seq} before what it still had to send again")
        if seq in self._sent:
            if frame != self._sent[seq]:
                self._fault(f"seq {seq} again with other content")
            return
        if seq <= max(self._sent, default=0):
            self._fault(f"seq {seq} is not a new one")
        self._sent[seq] = frame
        getattr(self, f"_cart_{frame['type']}")(frame)

    def _must_stand(self):
        return any(since is not None and self._now - since > GRACE_S
                   for since in (self.stopped_at, self.stopped_at_cart))

    def _cart_read(self, frame):
        step = frame["step"]
        self.read_steps.append(step)
        leg = [self.granted[k] for k in range(self.step + 1, step + 1) if k in self.granted]
        if len(leg) != step - self.step or any(point["tags"] for point in leg[:-1]):
            self._fault(f"reads step {step} after step {self.step}")
        if step > self.until:
            self._fault(f"reads step {step}, its authority ended at {self.until}")
        if self._must_stand():
            self._fault(f"passes step {step} although it was stopped")
        point = self.granted.get(step, {"tags": []})
        if frame["tag"] not in point["tags"]:
            self._fault(f"reads {frame['tag']} at step {step}")
        least = sum(on["length"] / on["speed"] for on in leg if "length" in on)
        if self._passed_at is not None and self._now - self._passed_at < least - GRACE_S:
            self._fault(f"took {self._now - self._passed_at:.2f} s to step {step}, where the "
                        f"speed limit makes it {least:.2f} s")
        self.step, self.passed = step, max(step, self.passed)
        # What is told only after a lost link has happened some time before.
        self._passed_at = self._now if self._now - self._welcomed_at > GRACE_S else None

    def _cart_state(self, frame):
        if frame["moving"] and self._must_stand():
            self._fault("moves although it was stopped")
        braked = self._passed_at is None or self._now - self._passed_at > GRACE_S
        if frame["moving"] and self.step >= self.until and braked:
            self._fault("moves although its authority has ended")
        loads = [what for _, what in self.handled]
        if frame["loaded"] != (loads[-1:] == ["load"]):
            self._fault(f"says loaded {frame['loaded']}")

    def _cart_done(self, frame):
        place = (frame["step"], frame["what"])
        if place in self.handled:
            self._fault(f"handles twice: {place}")
        self.handled.append(place)
        if place != (self.step, self.granted.get(self.step, {}).get("act")):
            self._fault(f"done with {place}, standing at step {self.step}")

    def _cart_stop(self, frame):
        if frame["cause"] != "service":
            self.stopped_at_cart = self._now
        elif self.stopped_at is None:
            self._fault("confirms a stop that nobody asked for")

    def _cart_release(self, _):
        if self.stopped_at_cart is None:
            self._fault("is released without a stop")
        self.stopped_at_cart = None
