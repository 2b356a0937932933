"""The demo works on a bad network: five virtual carts reach the service only through a proxy that
delays, stalls, blocks, cuts, leaves old connections half alive and repeats frames (proxy.py), and
the people who ask for jobs lose requests and answers. No promised job lost, none done twice, no
contact of bodies, nothing held twice, and nobody has to act as a person.

The time-outs of the cart link run in real time, the works in the service's; a stall of 20 s is
20 s times the pace for the works, in which the cart stands at its authority's end.

TAGLINE_NETWORK_JOBS: how many jobs, 15 unless said. TAGLINE_NETWORK_SECONDS: no more are asked
for after so many real seconds. TAGLINE_NETWORK_CALM_S: real seconds between
two faults of a link, 12 unless said. TAGLINE_SEED, TAGLINE_PACE (50), TAGLINE_KEEP as in
kill_test.py."""

import os
import pathlib
import sys
import time
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "sockets"))

from customer import Customer  # noqa: E402
from proxy import Faults, Proxy  # noqa: E402
from works import UNSURE, WorksCase  # noqa: E402

JOBS = int(os.environ.get("TAGLINE_NETWORK_JOBS", "15"))
SEED = int(os.environ.get("TAGLINE_SEED", "1"))
PACE = int(os.environ.get("TAGLINE_PACE", "50"))
ASKING_S = float(os.environ.get("TAGLINE_NETWORK_SECONDS", "inf"))
CALM_S = float(os.environ.get("TAGLINE_NETWORK_CALM_S", "12"))


class FaultyNetwork(WorksCase):
    seed = SEED
    pace = PACE
    patience_s = 180 + 20 * JOBS

    def test_faulty_network(self):
        self.start_service()
        faults = Faults()
        faults.mean_calm_s = CALM_S
        proxy = Proxy(self.port, SEED, faults)
        proxy.start()
        self.addCleanup(proxy.stop)
        self.start_carts(proxy.cart_port)
        self.place_all()
        flows = [(flow["from"], flow["to"], flow["per_hour"]) for flow in self.demand]
        customer = Customer(self.port, flows, SEED, goal=JOBS, ask_port=proxy.http_port)
        customer.start()
        self.addCleanup(customer.stop)
        told = time.monotonic()
        while not (customer.delivered() == len(customer.wishes) == customer.goal and customer.all_promised()):
            if time.monotonic() > self.started + ASKING_S:
                customer.goal = len(customer.wishes)
            elif not all(proxy.counts[kind] for kind in Faults.kinds):
                customer.goal = max(JOBS, len(customer.wishes) + 1)  # until all have been met
            self.wait_for(lambda: True, "")
            if time.monotonic() > self.started + self.patience_s:
                self.wait_for(lambda: False, f"{customer.goal} deliveries", seconds=0)
            time.sleep(0.25)
            for cart in self.check_holdings() or []:
                self.assertNotIn(cart["mode"], UNSURE | {"needs_release"},
                                 f"a person is needed\n{self.logs()}")
            report = self.report()
            self.assertEqual((report["body_contacts"], report["handled_amiss"]), (0, 0), report)
            self.assertEqual(customer.broken, [])
            self.assertEqual(proxy.troubles, [])
            if time.monotonic() > told + 60:
                told = time.monotonic()
                print(f"{customer.delivered()} delivered in {told - self.started:.0f} s; "
                      f"{dict(proxy.counts)}", flush=True)
        report = self.settle_accounts(customer)
        for kind in ("frame_twice", "old_frame_again", *Faults.kinds):
            self.assertGreater(proxy.counts[kind], 0, f"{kind}: the network was not that bad")
        print(f"{len(customer.wishes)} jobs delivered once, seed {SEED}, pace {PACE}: "
              f"{time.monotonic() - self.started:.0f} s real, {report['seconds'] / 3600:.1f} h of "
              f"the works; faults {dict(sorted(proxy.counts.items()))}; {customer.unanswered} "
              f"askings without an answer; least gap {report['least_gap_mm']:.0f} mm, slipped "
              f"{report['slipped_s']:.0f} s, links refused {report['refused']}")


if __name__ == "__main__":
    unittest.main()
