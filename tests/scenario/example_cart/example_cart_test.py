"""The example cart of protocol/README.md, run as a process of its own against the real service. A
listener on its link hears what it says; a referee that knows only the written rules judges it."""

import asyncio
import json
import os
import pathlib
import sys
import tempfile
import time
import unittest
import urllib.error
import urllib.request

sys.dont_write_bytecode = True
from conduct import Conduct
from listener import Listener

ROOT = pathlib.Path(__file__).resolve().parents[3]
EXAMPLE = ROOT / "protocol" / "example_cart.py"
SAMPLE_FLOOR = ROOT / "protocol" / "samples" / "small.floor.json"
PATIENCE_S = 60  # for one thing to happen
CARTS = {"cart-1": "sample-key-of-cart-1", "cart-2": "sample-key-of-cart-2"}


class Page(unittest.TestCase):
    def test_shows_the_very_file(self):
        page = (ROOT / "protocol" / "README.md").read_text()
        shown = page.split("<!-- example_cart.py -->\n```python\n", 1)[1].split("```\n", 1)[0]
        self.assertEqual(shown, EXAMPLE.read_text())

    def test_it_has_fewer_than_50_lines(self):
        lines = EXAMPLE.read_text().splitlines()
        self.assertLess(len(lines), 50)
        self.assertLessEqual(max(map(len, lines)), 100)


class Works(unittest.IsolatedAsyncioTestCase):
    async def asyncSetUp(self):
        self.program = os.environ.get("TAGLINE_BIN")
        self.assertTrue(self.program, "TAGLINE_BIN must name the tagline program")
        self.folder = tempfile.TemporaryDirectory(prefix="tagline-example-")
        self.addCleanup(self.folder.cleanup)
        self.path = pathlib.Path(self.folder.name)
        # The sample floor, but for carts that nobody has to wait for, and without P6's tag.
        floor = json.loads(SAMPLE_FLOOR.read_text())
        floor["cart"] |= {"speed": 3000, "acceleration": 6000, "deceleration": 10000}
        floor["points"][5]["tags"] = []
        (self.path / "floor.json").write_text(json.dumps(floor))
        (self.path / "fleet.json").write_text(json.dumps({"format": "tagline-fleet/1", "carts": [
            {"id": cart, "key": key} for cart, key in CARTS.items()]}))
        self.processes = []
        self.listener = await self.enterAsyncContext(Listener())
        self.port = 0
        await self.start_service()

    async def asyncTearDown(self):
        for process in self.processes:
            if process.returncode is None:
                process.kill()
            await process.wait()

    # ---- processes

    async def start(self, log, *command):
        with open(self.path / log, "ab") as out:
            process = await asyncio.create_subprocess_exec(
                *map(str, command), stdin=asyncio.subprocess.DEVNULL, stdout=out, stderr=out)
        self.processes.append(process)
        return process

    async def start_service(self):
        port_file = self.path / "port"
        port_file.unlink(missing_ok=True)
        self.service = await self.start(
            "service.log", self.program, "serve", "--floor", self.path / "floor.json", "--fleet",
            self.path / "fleet.json", "--data", self.path / "data", "--port", self.port,
            "--port-file", port_file, "--open-door", "builder")
        await self.until(lambda: port_file.exists() and port_file.read_text().strip(), "a port")
        self.port = self.listener.service_port = int(port_file.read_text())

    async def start_cart(self, cart, boot="k7"):
        url = f"ws://127.0.0.1:{self.listener.port}/cart"
        return await self.start(f"{cart}.log", sys.executable, EXAMPLE, url, cart, CARTS[cart],
                                boot)

    async def until(self, condition, what):
        deadline = time.monotonic() + PATIENCE_S
        while time.monotonic() < deadline:
            got = condition()
            if got := await got if asyncio.iscoroutine(got) else got:
                return got
            await asyncio.sleep(0.02)
        logs = "\n".join(f"--- {log.name}\n{log.read_text()[-3000:]}"
                         for log in self.path.glob("*.log"))
        heard = "\n".join(f"{cart} {said}" for cart, record in self.listener.records.items()
                          for said in record[-12:])
        self.fail(f"waited in vain for {what}\n{logs}\n{heard}")

    # ---- what a person does, and sees

    async def call(self, method, path, body=None):
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", method=method)
        if body is not None:
            request.data = json.dumps(body).encode()
            request.add_header("Content-Type", "application/json")

        def ask():
            with urllib.request.urlopen(request, timeout=10) as answer:
                return json.load(answer)
        return await asyncio.to_thread(ask)

    async def place(self, cart, point, came_from):
        async def connected():
            return (await self.call("GET", f"/api/carts/{cart}"))["connected"]
        await self.until(connected, f"{cart} to connect")
        await self.call("POST", f"/api/carts/{cart}/place",
                        {"point": point, "came_from": came_from})

    async def ask_job(self, start, end):
        return (await self.call("POST", "/api/jobs", {"from": start, "to": end}))["id"]

    async def delivered(self, job):
        async def is_delivered():
            return (await self.call("GET", f"/api/jobs/{job}"))["state"] == "delivered"
        await self.until(is_delivered, f"job {job} to be delivered")

    async def at_rest(self, cart):
        """The cart has driven to where it is out of the way, and nobody need look after it."""
        async def rests():
            seen = await self.call("GET", f"/api/carts/{cart}")
            return seen["mode"] == "idle" and len(seen["path"]) == 1 and seen
        seen = await self.until(rests, f"{cart} to rest")
        self.assertEqual((seen["trouble"], seen["fault"], seen["loaded"]), ("", "none", False))
        self.assertEqual((await self.call("GET", "/api/alarms"))["alarms"], [])

    # ---- what was heard

    async def heard(self, cart, **fields):
        """Waits for a message of the cart with these fields."""
        return await self.until(
            lambda: [said for said in self.listener.records.get(cart, [])
                     if said.who == "cart" and fields.items() <= said.frame.items()],
            f"{cart} to say {fields}")

    def judge(self, cart):
        record = self.listener.records[cart]
        conduct = Conduct(record)
        shown = "\n".join(f"{number}: {said.at:.2f} {said.who} {json.dumps(said.frame)}"
                          for number, said in enumerate(record))
        self.assertEqual(conduct.faults, [], shown)
        self.assertEqual(conduct.unacknowledged(), [], shown)
        return conduct

    # ---- scenarios

    async def test_a_job_with_a_stop_on_the_way(self):
        await self.start_cart("cart-1")
        await self.place("cart-1", "H1", "A1")
        job = await self.ask_job("CAST", "DRY")
        await self.heard("cart-1", type="read", step=2)
        await self.call("POST", "/api/carts/cart-1/stop")
        await self.heard("cart-1", type="stop", cause="service")
        await asyncio.sleep(2.5)  # longer than two legs take
        stands_at = self.judge("cart-1").step
        await self.call("POST", "/api/carts/cart-1/release")
        await self.heard("cart-1", type="done", what="load")
        await self.heard("cart-1", type="state", moving=True, loaded=True)
        # An authority of before comes late, or again: it changes nothing.
        old = [said.frame for said in self.listener.records["cart-1"]
               if said.frame.get("type") == "authority" and said.frame["points"][0]["step"] == 1]
        for frame in old:
            await self.listener.say("cart-1", frame)
        await self.delivered(job)
        await self.at_rest("cart-1")
        conduct = self.judge("cart-1")
        self.assertLess(stands_at, 6, "the stop came too late to prove anything")
        self.assertEqual(conduct.stops, 1)
        self.assertEqual([what for _, what in conduct.handled], ["load", "unload"])
        self.assertEqual(conduct.read_steps[:4], [2, 3, 4, 6], "P6, step 5, has no tag")
        self.assertEqual(conduct.links, 1)

    async def test_no_radio_on_the_way(self):
        await self.start_cart("cart-1")
        await self.place("cart-1", "H1", "A1")
        await asyncio.sleep(0.5)  # the answer is there before what the cart is told
        self.listener.cut()  # it has read no tag yet
        await self.until(lambda: Conduct(self.listener.records["cart-1"]).links == 2,
                         "a second link")
        job = await self.ask_job("CAST", "DRY")
        await self.heard("cart-1", type="read", step=2)
        self.listener.down = True
        self.listener.cut()
        await asyncio.sleep(4)  # time enough for more than the authority it holds
        self.listener.down = False
        await self.delivered(job)
        await self.at_rest("cart-1")
        conduct = self.judge("cart-1")
        again = [said.frame for said in self.listener.records["cart-1"]
                 if said.frame.get("type") == "hello"][-1]
        self.assertGreater(again["step"], 2, "it went on by itself")
        self.assertEqual(again["step"], again["until"], "and stopped where its authority ended")
        self.assertEqual([what for _, what in conduct.handled], ["load", "unload"])
        self.assertEqual(conduct.links, 3)

    async def test_the_service_killed_on_the_way(self):
        await self.start_cart("cart-1")
        await self.place("cart-1", "H1", "A1")
        job = await self.ask_job("CAST", "DRY")
        await self.heard("cart-1", type="done", what="load")
        await self.heard("cart-1", type="state", moving=True, loaded=True)
        self.service.kill()
        await self.service.wait()
        await asyncio.sleep(1)
        await self.start_service()
        await self.delivered(job)
        # Once more, ended in order, and with a job waiting where the cart gives its load off.
        job = await self.ask_job("CAST", "DRY")
        back = await self.ask_job("DRY", "CAST")
        await self.until(lambda: len(Conduct(self.listener.records["cart-1"]).handled) == 3,
                         "the second load")
        self.service.terminate()
        self.assertEqual(await self.service.wait(), 0)
        await self.start_service()
        await self.delivered(job)
        await self.delivered(back)
        await self.at_rest("cart-1")
        conduct = self.judge("cart-1")
        self.assertEqual([what for _, what in conduct.handled], ["load", "unload"] * 3)
        self.assertEqual(conduct.links, 3)
        codes = [said.frame["code"] for said in self.listener.records["cart-1"]
                 if said.frame.get("link") == "lost"]
        self.assertEqual(codes, [1006, 4503])

    async def test_two_carts_wait_for_each_other(self):
        await self.start_cart("cart-1")
        await self.start_cart("cart-2", boot="m2")
        await self.place("cart-1", "H1", "A1")
        await self.place("cart-2", "H2", "A2")
        for job in [await self.ask_job("CAST", "DRY"), await self.ask_job("CAST", "DRY")]:
            await self.delivered(job)
        for cart in CARTS:
            await self.at_rest(cart)
            self.assertEqual([what for _, what in self.judge(cart).handled], ["load", "unload"])
        held = [said for record in self.listener.records.values() for said in record
                if said.who == "service" and said.frame["type"] == "hold"]
        self.assertTrue(held, "somebody was told to wait")


if __name__ == "__main__":
    unittest.main()
