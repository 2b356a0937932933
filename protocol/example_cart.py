"""An example cart that only pretends to drive: example_cart.py ws://HOST:PORT/cart ID KEY BOOT"""
import asyncio, itertools, json, sys, websockets  # the last one is Debian's python3-websockets
URL, WHO = sys.argv[1], dict(zip(("cart", "key", "boot"), sys.argv[2:]))
class me:  # way: from the last tag read to the end of the authority; gone: mm driven since that tag
    way, gone, tag, loaded, handled, stopped, link, kept, trip = [], 0, "", False, 0, 0, None, [], 0
async def tell(kind, numbers=itertools.count(1), **more):
    message = {"type": kind, "seq": next(numbers), **more}
    if kind != "state": me.kept.append(message)  # until an ack covers it
    if me.link: await asyncio.gather(me.link.send(json.dumps(message)), return_exceptions=True)
async def take(type, seq=0, points=(), trip=0, **more):
    if type in ("ack", "welcome"): me.kept = [one for one in me.kept if one["seq"] > seq]
    if type in ("stop", "release"): me.stopped = type == "stop"
    if type == "stop": await tell("stop", cause="service")
    if type == "reset": me.way, me.gone, me.handled, me.trip = [], 0, 0, 0
    if points and not me.way: me.tag = (points[0]["tags"] or [""])[0]  # somebody set it down there
    held, new = me.way or points, [point["step"] for point in points]
    if new and trip >= me.trip and new[0] <= held[0]["step"] and new[-1] >= held[-1]["step"]:
        me.way, me.trip = [point for point in points if point["step"] >= held[0]["step"]], trip
async def drive(told=None):  # 20 times a second: goes a little further, handles a load, or stands
    for tick in itertools.count():
        (here, *rest), moving = me.way or [{}], len(me.way) > 1 and not me.stopped
        leg = rest[:next((n for n, point in enumerate(rest) if point["tags"]), 0) + 1]
        me.gone += moving and min(point["speed"] for point in leg) / 20
        if moving and me.gone >= sum(point["length"] for point in leg):
            me.way, me.gone, me.tag = rest[len(leg) - 1:], 0, leg[-1]["tags"][0]
            await tell("read", tag=me.tag, step=me.way[0]["step"])
        elif here.get("act") in ("load", "unload") and me.handled != (here["step"], here["act"]):
            await asyncio.sleep(1)  # somebody puts the load on, or takes it off
            me.handled, me.loaded = (here["step"], here["act"]), here["act"] == "load"
            await tell("done", step=here["step"], what=here["act"])
        if told != (told := (moving, me.loaded)) or tick % 100 == 0:  # new, or for 5 s the same
            await tell("state", battery=80, loaded=me.loaded, moving=moving)
        await asyncio.sleep(1 / 20)
async def talk(pause=0.5):
    while True:
        try:
            async with websockets.connect(URL, subprotocols=["tagline.cart.1"]) as link:
                steps = [point["step"] for point in me.way] or [0]
                await link.send(json.dumps(dict(WHO, type="hello", last_tag=me.tag, step=steps[0],
                    until=steps[-1], loaded=me.loaded, battery=80, stopped=False)))
                await take(**json.loads(await asyncio.wait_for(link.recv(), 10)))  # welcome
                for message in me.kept: await link.send(json.dumps(message))
                me.link, pause = link, 0.5
                while True: await take(**json.loads(await asyncio.wait_for(link.recv(), 15)))
        except (OSError, asyncio.TimeoutError, websockets.WebSocketException) as end: print(end)
        me.link, pause = None, min(2 * pause, 10)
        await asyncio.sleep(pause)
async def main(): await asyncio.gather(drive(), talk())
asyncio.run(main())
