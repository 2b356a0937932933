"""The person in the works who looks after a cart that does not know where it is: pushes it onto the
next tag, or back onto the last one, and says so on the board."""

import time

from works import NO_ANSWER, ask


class Person:
    """Needs carts started with --person. Call look() again and again."""

    patience_s = 2.0  # real; the report of where the bodies stand is a second old

    def __init__(self, works):
        self.works = works
        self.since = {}  # cart: (what is the matter, since when)
        self.helped = {}

    def look(self, carts):
        now = time.monotonic()
        for cart in carts:
            matter = cart["mode"]
            if matter not in ("in_doubt", "needs_release") or not cart["connected"]:
                self.since.pop(cart["id"], None)
                continue
            known, since = self.since.setdefault(cart["id"], (matter, now))
            if known != matter:
                self.since[cart["id"]] = (matter, now)
            elif now - since > self.patience_s:
                if self.help(cart, carts):
                    self.helped[matter] = self.helped.get(matter, 0) + 1
                self.since[cart["id"]] = (matter, now)

    def help(self, cart, carts):
        path = f"/api/carts/{cart['id']}"
        try:
            if cart["mode"] == "needs_release":
                return ask(self.works.port, "POST", f"{path}/release")[0] == 200
            held = {piece for other in carts if other["id"] != cart["id"]
                    for piece in other["holds"]}
            for where, (point, before) in self.works.report()["stands"][cart["id"]].items():
                if point in held:
                    continue  # another cart may come
                self.works.order(f"{where} {cart['id']}")
                status, _ = ask(self.works.port, "POST", f"{path}/place",
                                {"point": point, "came_from": before})
                if status == 200:
                    return True
        except NO_ANSWER:
            pass
        return False
