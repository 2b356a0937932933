"""The demo works over real sockets: the service in one process, five virtual carts in another, a
hundred jobs. All must be delivered once, none lost, and the carts' own physical truth must know of
no contact; also with the service killed in the middle, the carts driving on meanwhile."""

import random
import time
import unittest

from works import WorksCase, ask

JOBS = 100


class Scenarios(WorksCase):
    seed = 7

    def ask_jobs(self):
        choice = random.Random(11)
        self.wanted = []
        ids = set()
        for number in range(JOBS):
            start, end = choice.sample(list(self.point_of), 2)
            status, job = ask(self.port, "POST", "/api/jobs", {"from": start, "to": end},
                              key=f"job-{number}")
            self.assertEqual(status, 201)
            self.wanted.append((start, end))
            ids.add(job["id"])
        self.assertEqual(len(ids), JOBS)
        return ids

    def delivered(self):
        answer = self.get("/api/jobs?state=delivered&limit=1000") or {"jobs": []}
        return [job["id"] for job in answer["jobs"]]

    def check_end(self, ids):
        self.assertEqual(sorted(self.delivered()), sorted(ids), "each job delivered, none twice")
        report = self.final_report()
        self.check_bodies(report, self.wanted)
        print(f"{JOBS} jobs in {report['seconds']:.0f} s of the works, "
              f"{time.monotonic() - self.started:.0f} s real; {report['distance_m']:.0f} m driven, "
              f"least gap {report['least_gap_mm']:.0f} mm, slipped {report['slipped_s']} s")

    def test_hundred_jobs(self):
        self.start_service()
        self.start_carts()
        self.place_all()
        ids = self.ask_jobs()
        self.wait_for(lambda: len(self.delivered()) == JOBS, f"{JOBS} deliveries")
        self.check_end(ids)

    def test_hundred_jobs_with_a_killed_service(self):
        self.start_service()
        self.start_carts()
        self.place_all()
        ids = self.ask_jobs()
        self.wait_for(lambda: len(self.delivered()) >= JOBS // 2, "half of the deliveries")
        self.kill_service()
        time.sleep(1)  # the carts come to the ends of their authorities
        before = time.monotonic()
        self.start_service()
        # Nobody acts as a person from here on: the carts greet, and what they say fits.
        self.wait_for(lambda: len(self.delivered()) == JOBS, f"{JOBS} deliveries")
        print(f"{time.monotonic() - before:.0f} s real from the restart to the last delivery")
        self.check_end(ids)


if __name__ == "__main__":
    unittest.main()
