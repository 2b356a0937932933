"""The referee of the example cart finds nothing wrong with the sample exchanges, and each fault
planted into them."""

import copy
import json
import pathlib
import sys
import unittest

sys.dont_write_bytecode = True
from conduct import Conduct
from listener import Said

SAMPLES = pathlib.Path(__file__).resolve().parents[3] / "protocol" / "samples"


def lines_of(name):
    """The frames and link events of a sample as (who, frame)."""
    for text in (SAMPLES / name).read_text().splitlines():
        line = json.loads(text)
        if "link" in line:
            yield "link", {"link": line["link"]}
        elif "frame" in line:
            yield line["from"], line["frame"]


def faults_of(lines):
    """Judged as if a leg of the way took 4.9 s, and everything else next to nothing."""
    now, record = 0.0, []
    for who, frame in lines:
        now += 4.9 if (who, frame.get("type")) == ("cart", "read") else 0.1
        if frame.get("type") == "state":
            now += 0.2
        record.append(Said(now, who, frame))
    return Conduct(record).faults


class Referee(unittest.TestCase):
    def test_has_nothing_against_the_samples(self):
        for name in ("first-trip.jsonl", "link-drop.jsonl", "stop-and-release.jsonl"):
            self.assertEqual(faults_of(lines_of(name)), [], name)

    def expect(self, name, change, fault):
        lines = [(who, copy.deepcopy(frame)) for who, frame in lines_of(name)]
        change(lines)
        found = faults_of(lines)
        self.assertTrue(any(fault in one for one in found), f"{fault!r} is not in {found}")

    @staticmethod
    def find(lines, after=0, **fields):
        return next(k for k, (who, frame) in enumerate(lines)
                    if k >= after and who == "cart" and fields.items() <= frame.items())

    def test_finds_a_tag_passed_in_silence(self):
        def change(lines):
            del lines[self.find(lines, type="read", step=3)]
        self.expect("first-trip.jsonl", change, "reads step 4 after step 2")

    def test_finds_a_wrong_tag(self):
        def change(lines):
            lines[self.find(lines, type="read", step=3)][1]["tag"] = "04A10001"
        self.expect("first-trip.jsonl", change, "reads 04A10001 at step 3")

    def test_finds_an_authority_overrun(self):
        def change(lines):
            done = self.find(lines, type="done", what="load")
            moved = lines.pop(self.find(lines, type="read", step=5))
            lines.insert(done, moved)
        self.expect("first-trip.jsonl", change, "reads step 5, its authority ended at 4")

    def test_finds_speeding(self):
        def change(lines):
            for _, frame in lines:
                for point in frame.get("points", [])[1:]:
                    point["speed"] = 100
        self.expect("first-trip.jsonl", change, "where the speed limit makes it 15.66 s")

    def test_finds_handling_done_twice_or_elsewhere(self):
        def twice(lines):
            at = self.find(lines, type="done", what="load")
            lines.insert(at + 1, ("cart", {**lines[at][1], "seq": 99}))
        self.expect("first-trip.jsonl", twice, "handles twice")

        def elsewhere(lines):
            lines[self.find(lines, type="done", what="load")][1]["step"] = 3
        self.expect("first-trip.jsonl", elsewhere, "done with (3, 'load')")

    def test_finds_a_load_that_comes_from_nowhere(self):
        def change(lines):
            lines[self.find(lines, type="state", seq=2)][1]["loaded"] = True
        self.expect("first-trip.jsonl", change, "says loaded True")

    def test_finds_a_cart_that_goes_on_though_stopped(self):
        def drives(lines):
            at = self.find(lines, type="stop", cause="service")
            moved = lines.pop(self.find(lines, type="read", step=4))
            lines.insert(at + 1, moved)
        self.expect("stop-and-release.jsonl", drives, "although it was stopped")

        def moves(lines):
            at = self.find(lines, type="stop", cause="button")
            lines[self.find(lines, at, type="state")][1]["moving"] = True
        self.expect("stop-and-release.jsonl", moves, "moves although it was stopped")

    def test_finds_a_cart_that_moves_at_the_end(self):
        def change(lines):
            at = self.find(lines, type="read", step=4)
            lines[self.find(lines, at, type="state")][1]["moving"] = True
        self.expect("first-trip.jsonl", change, "its authority has ended")

    def test_finds_what_is_not_sent_again(self):
        def left_out(lines):
            del lines[self.find(lines, type="read", step=3)]
        self.expect("link-drop.jsonl", left_out, "reads step 4 after step 2")

        def forgotten(lines):
            ack = next(k for k, (_, frame) in enumerate(lines)
                       if frame == {"type": "ack", "seq": 3})
            del lines[ack]
            welcome = [k for k, line in enumerate(lines) if line[1].get("type") == "welcome"][1]
            lines[welcome][1]["seq"] = 2
        self.expect("link-drop.jsonl", forgotten, "seq 4 before what it still had to send again")

        def renumbered(lines):
            at = self.find(lines, type="read", step=3)
            lines[at][1]["seq"] = 3
        self.expect("link-drop.jsonl", renumbered, "seq 3 again with other content")

        def out_of_order(lines):
            first, second = (self.find(lines, type="read", step=step) for step in (3, 4))
            lines[first], lines[second] = lines[second], lines[first]
        self.expect("link-drop.jsonl", out_of_order, "is not a new one")

    def test_finds_a_hello_that_does_not_fit(self):
        for step, until in ((1, 4), (4, 5), (4, 3)):
            def change(lines):
                at = [k for k, line in enumerate(lines) if line[1].get("type") == "hello"][1]
                lines[at][1].update(step=step, until=until)
            self.expect("link-drop.jsonl", change, f"says step {step}, until {until}")

    def test_finds_talk_before_the_welcome(self):
        def change(lines):
            lines.insert(2, lines.pop(self.find(lines, type="state", seq=1)))
        self.expect("first-trip.jsonl", change, "a message before the welcome")

    def test_finds_silence(self):
        def change(lines):
            self.assertEqual(lines[-1][1]["type"], "ack")
            lines[-2:] = [("service", {"type": "hold", "reason": ""})] * 60 + lines[-2:]
        self.expect("first-trip.jsonl", change, "silent for 6.")


if __name__ == "__main__":
    unittest.main()
