"""WebSocket frames (RFC 6455, 5.2) as a proxy needs them: whole ones off a stream, and text frames
made anew."""

import asyncio
import os
import struct

TEXT = 1


class Frame:
    """`raw` is what came over the wire; `payload` is unmasked."""

    def __init__(self, opcode, final, payload, raw):
        self.opcode, self.final, self.payload, self.raw = opcode, final, payload, raw

    def whole_text(self):
        return self.payload.decode() if self.opcode == TEXT and self.final else None


async def read_frame(reader):
    """IncompleteReadError or ConnectionError at the end of the stream."""
    head = await reader.readexactly(2)
    raw = head
    length = head[1] & 0x7F
    if length >= 126:
        more = await reader.readexactly(2 if length == 126 else 8)
        raw += more
        length = int.from_bytes(more, "big")
    mask = b""
    if head[1] & 0x80:
        mask = await reader.readexactly(4)
        raw += mask
    payload = await reader.readexactly(length)
    raw += payload
    if mask:
        payload = unmasked(payload, mask)
    return Frame(head[0] & 0x0F, bool(head[0] & 0x80), payload, raw)


def unmasked(payload, mask):
    repeated = (mask * (len(payload) // 4 + 1))[:len(payload)]
    return (int.from_bytes(payload, "big") ^ int.from_bytes(repeated, "big")).to_bytes(
        len(payload), "big")


def text_frame(text, masked):
    """As a client sends it if `masked`, else as a server."""
    payload = text.encode()
    flag = 0x80 if masked else 0
    if len(payload) < 126:
        head = struct.pack("!BB", 0x80 | TEXT, flag | len(payload))
    else:
        head = struct.pack("!BBH", 0x80 | TEXT, flag | 126, len(payload))
    if not masked:
        return head + payload
    mask = os.urandom(4)
    return head + mask + unmasked(payload, mask)


async def read_head(reader):
    """The HTTP head that begins a connection."""
    return await reader.readuntil(b"\r\n\r\n")


GONE = (asyncio.IncompleteReadError, asyncio.LimitOverrunError, ConnectionError, OSError)
