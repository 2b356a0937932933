"""Stands between carts and the service, passes on every frame of the cart link and writes down who
said what and when; can also cut the links, as bad radio does, and tell a cart something again."""

import asyncio
import dataclasses
import json
import time

import websockets

SUBPROTOCOL = "tagline.cart.1"


@dataclasses.dataclass(frozen=True)
class Said:
    """One line of the record. `who` is "cart", "service", or "link" for its opening and end."""

    at: float  # s, monotonic
    who: str
    frame: dict


class Listener:
    def __init__(self):
        self.records = {}  # cart id -> [Said]
        self.service_port = 0
        self.port = 0
        self.down = False  # no radio at all
        self._links = set()
        self._carts = {}  # cart id -> its link

    async def __aenter__(self):
        self._server = await websockets.serve(self._handle, "127.0.0.1", 0,
                                              subprotocols=[SUBPROTOCOL])
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    async def __aexit__(self, *_):
        self._server.close()
        await self._server.wait_closed()

    def cut(self):
        """Every link ends without a word."""
        for link in list(self._links):
            link.transport.abort()

    async def say(self, cart, frame):
        """Tells a cart something in the service's name."""
        self._note(self.records[cart], "service", json.dumps(frame))
        await self._carts[cart].send(json.dumps(frame))

    async def _handle(self, cart):
        if self.down:
            cart.transport.abort()
            return
        try:
            service = await websockets.connect(f"ws://127.0.0.1:{self.service_port}/cart",
                                               subprotocols=[SUBPROTOCOL], close_timeout=1)
        except OSError:
            cart.transport.abort()
            return
        self._links |= {cart, service}
        try:
            hello = await cart.recv()
            name = json.loads(hello).get("cart")
            self._carts[name] = cart
            record = self.records.setdefault(name, [])
            record.append(Said(time.monotonic(), "link", {"link": "open"}))
            self._note(record, "cart", hello)
            await service.send(hello)
            await asyncio.wait([asyncio.create_task(self._pass(record, "cart", cart, service)),
                                asyncio.create_task(self._pass(record, "service", service, cart))])
            record.append(Said(time.monotonic(), "link", {"link": "lost",
                                                          "code": service.close_code}))
        except websockets.ConnectionClosed:
            pass
        finally:
            self._links -= {cart, service}

    @staticmethod
    def _note(record, who, text):
        record.append(Said(time.monotonic(), who, json.loads(text)))

    async def _pass(self, record, who, source, sink):
        """Noted before it is passed on, so that an answer is always noted behind it."""
        try:
            async for text in source:
                self._note(record, who, text)
                await sink.send(text)
        except websockets.ConnectionClosed:
            pass
        # 1005 and 1006 say that no code came; they can't be sent on.
        code = source.close_code if source.close_code not in (None, 1005, 1006) else 1000
        await sink.close(code, source.close_reason or "")
