"""A bad network between carts and service: a proxy on loopback that delays, stalls, blocks one
direction, cuts in the middle of a frame, leaves old connections half alive, and sends frames twice
or once more long after. Every fault is counted. All chance comes from one seed.

What it can't do as a network does: lose, re-order or corrupt packets under TCP, which TCP mends and
which then shows as a delay or a cut; both are made here."""

import asyncio
import collections
import json
import random
import socket
import struct
import threading
import time

from frames import GONE, read_frame, read_head, text_frame

# Messages of the service that may come twice or late without harm (protocol/README.md, "How the
# cart takes it"); what a cart sends is numbered, so all of it may but the hello.
REPEATABLE = {"authority", "ack", "hold"}
KEPT_FRAMES = 40  # of each cart and direction, for sending again
LONG_S = 15.0  # both ends give up a silent link after so long, in real time


class Faults:
    """Rates and sizes. Times are real: the time-outs of the link do not follow the pace."""

    mean_calm_s = 12.0  # between two faults of one link
    delay_s = 0.1  # most extra time of a chunk, all the time
    burst_delay_s = 3.0  # most in a burst
    twice = 0.05  # share of the frames sent twice at once
    again = 0.05  # share of the frames followed by an old one
    no_request = 0.08  # share of HTTP requests lost before they arrive
    no_answer = 0.08  # share of HTTP answers lost
    # What goes wrong with links, and how often of so many; the long ones are rare, because the
    # carts behind one that is out of reach wait for it.
    kinds = {"burst": 6, "cut_in_frame": 6, "reset": 6, "blocked_up": 1, "blocked_down": 1,
             "half_open": 1, "old_half_alive": 2}


class Proxy:
    """On a thread of its own between start() and stop()."""

    def __init__(self, service_port, seed, faults):
        self.service_port, self.faults = service_port, faults
        self.chance = random.Random(f"network {seed}")
        self.counts = collections.Counter()
        self.remembered = collections.defaultdict(
            lambda: collections.deque(maxlen=KEPT_FRAMES))  # (cart, up?): earlier texts
        self.loop = asyncio.new_event_loop()
        self.deck = list(faults.kinds)  # each kind once, then by their weights
        self.chance.shuffle(self.deck)
        self.links = set()
        self.troubles = []  # defects of the proxy itself
        self.thread = threading.Thread(target=self.run, daemon=True)
        self.ready = threading.Event()
        self.cart_port = self.http_port = None

    def start(self):
        self.thread.start()
        assert self.ready.wait(10)

    def stop(self):
        self.loop.call_soon_threadsafe(self.loop.stop)
        self.thread.join(10)

    def run(self):
        asyncio.set_event_loop(self.loop)
        self.loop.run_until_complete(self.listen())
        self.loop.run_forever()
        left = asyncio.all_tasks(self.loop)
        for task in left:
            task.cancel()
        self.loop.run_until_complete(asyncio.gather(*left, return_exceptions=True))
        self.loop.close()

    async def listen(self):
        carts = await asyncio.start_server(self.carts_connect, "127.0.0.1", 0)
        people = await asyncio.start_server(self.people_connect, "127.0.0.1", 0)
        self.cart_port = carts.sockets[0].getsockname()[1]
        self.http_port = people.sockets[0].getsockname()[1]
        self.servers = (carts, people)
        self.ready.set()

    def next_fault(self):
        if not self.deck:
            self.deck = [kind for kind, count in self.faults.kinds.items() for _ in range(count)]
            self.chance.shuffle(self.deck)
        kind = self.deck.pop()
        self.counts[kind] += 1
        return kind

    # ---- HTTP: one request a connection, or none, or no answer

    async def people_connect(self, reader, writer):
        try:
            head = await read_head(reader)
            length = next((int(line.split(b":")[1]) for line in head.split(b"\r\n")
                           if line.lower().startswith(b"content-length:")), 0)
            body = await reader.readexactly(length)
            await asyncio.sleep(self.chance.uniform(0, self.faults.delay_s))
            draw = self.chance.random()
            if draw < self.faults.no_request:
                self.counts["http_request_lost"] += 1
                return
            up_reader, up_writer = await asyncio.open_connection("127.0.0.1", self.service_port)
            up_writer.write(head.replace(b"\r\n\r\n", b"\r\nConnection: close\r\n\r\n") + body)
            answer = await up_reader.read()
            up_writer.close()
            if draw < self.faults.no_request + self.faults.no_answer:
                self.counts["http_answer_lost"] += 1
                writer.write(answer[:self.chance.randrange(len(answer) + 1) // 2])
                return
            writer.write(answer)
            await writer.drain()
        except GONE:
            pass
        finally:
            writer.close()

    # ---- the cart link

    async def carts_connect(self, reader, writer):
        try:
            link = Link(self, reader, writer,
                        *await asyncio.open_connection("127.0.0.1", self.service_port))
        except OSError:
            writer.close()
            return
        self.links.add(link)
        try:
            await link.run()
        except GONE:
            pass
        except Exception as error:  # pylint: disable=broad-except
            self.troubles.append(repr(error))
        finally:
            self.links.discard(link)
            link.close()


class Side:
    """One direction of a link: what is read on one end, and when it is let out at the other."""

    def __init__(self, up, reader, writer):
        self.up, self.reader, self.writer = up, reader, writer
        self.queue = asyncio.Queue()
        self.last_due = 0.0
        self.blocked_until = 0.0
        self.swallow = False
        self.cut_next = False  # the next frame is cut in its middle


class Link:
    """One connection of a cart, and its own to the service."""

    def __init__(self, proxy, cart_reader, cart_writer, service_reader, service_writer):
        self.proxy, self.faults, self.chance = proxy, proxy.faults, proxy.chance
        self.up = Side(True, cart_reader, service_writer)
        self.down = Side(False, service_reader, cart_writer)
        self.cart = None
        self.burst_until = 0.0
        self.linger_until = None
        for side in (self.up, self.down):
            side.writer.get_extra_info("socket").setsockopt(
                socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def close(self):
        for side in (self.up, self.down):
            side.writer.close()

    def reset(self, side):
        """Ends the connection that `side` writes to with a reset instead of a goodbye."""
        link = side.writer.get_extra_info("socket")
        if link is not None and link.fileno() >= 0:
            link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        side.writer.transport.abort()

    async def run(self):
        for side in (self.up, self.down):
            side.writer.write(await read_head(side.reader))
        tasks = [asyncio.ensure_future(self.take_in(self.up)),
                 asyncio.ensure_future(self.take_in(self.down)),
                 asyncio.ensure_future(self.let_out(self.up)),
                 asyncio.ensure_future(self.let_out(self.down)),
                 asyncio.ensure_future(self.go_wrong())]
        done, pending = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        if self.linger_until is not None:
            await self.linger(tasks)
        for task in pending:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        for task in done:
            if not task.cancelled() and task.exception() is not None:
                raise task.exception()

    # ---- frames through

    async def take_in(self, side):
        while True:
            frame = await read_frame(side.reader)
            if side.swallow:
                continue
            text = frame.whole_text()
            self.put(side, frame.raw)
            if text is not None:
                self.repeat(side, text)

    def repeat(self, side, text):
        """Sends it twice, or an old one after it; the old one may be of an earlier connection."""
        kind = json.loads(text)["type"]
        if kind == "hello":
            self.cart = json.loads(text)["cart"]
            return
        if kind not in REPEATABLE and not side.up or self.cart is None:
            return
        kept = self.proxy.remembered[self.cart, side.up]
        if self.chance.random() < self.faults.twice:
            self.proxy.counts["frame_twice"] += 1
            self.put(side, text_frame(text, masked=side.up))
        if kept and self.chance.random() < self.faults.again:
            self.proxy.counts["old_frame_again"] += 1
            self.put(side, text_frame(self.chance.choice(kept), masked=side.up))
        kept.append(text)

    def put(self, side, data):
        now = time.monotonic()
        most = self.faults.burst_delay_s if now < self.burst_until else self.faults.delay_s
        side.last_due = max(side.last_due, now + self.chance.uniform(0, most))
        side.queue.put_nowait((side.last_due, data))

    async def let_out(self, side):
        while True:
            due, data = await side.queue.get()
            while (late := max(due, side.blocked_until) - time.monotonic()) > 0:
                await asyncio.sleep(late)
            if side.swallow:
                continue
            if side.cut_next:
                side.writer.write(data[:self.chance.randrange(1, len(data))])
                await side.writer.drain()
                raise ConnectionError("cut in the middle of a frame")
            side.writer.write(data)
            await side.writer.drain()

    # ---- what goes wrong

    async def go_wrong(self):
        while True:
            await asyncio.sleep(self.chance.expovariate(1 / self.faults.mean_calm_s))
            kind = self.proxy.next_fault()
            now = time.monotonic()
            if kind == "burst":
                self.burst_until = now + self.chance.uniform(1, 5)
            elif kind == "cut_in_frame":
                self.chance.choice((self.up, self.down)).cut_next = True
                await asyncio.sleep(30)  # the sides speak more often than that
            elif kind == "reset":
                self.reset(self.up)
                self.reset(self.down)
                return
            elif kind in ("blocked_up", "blocked_down"):
                side = self.up if kind == "blocked_up" else self.down
                side.blocked_until = now + self.chance.uniform(1, LONG_S + 3)
            elif kind == "half_open":
                self.up.swallow = self.down.swallow = True
                await asyncio.sleep(LONG_S + 5)
                return
            elif kind == "old_half_alive":
                self.linger_until = now + self.chance.uniform(0, LONG_S + 3)
                return

    async def linger(self, tasks):
        """The cart loses its side and greets on a new connection; the service's side stays open,
        and what was on its way there arrives late on it."""
        self.reset(self.down)
        for task in (tasks[0], tasks[1], tasks[3]):
            task.cancel()
        self.up.blocked_until = time.monotonic() + self.chance.uniform(
            0, self.linger_until - time.monotonic())
        await asyncio.sleep(max(0, self.linger_until - time.monotonic()))
