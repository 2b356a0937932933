"""Runs the fuzzers of this folder: makes their seeds from the project's own samples, lets each try
so many inputs, and prints what it did.

usage: fuzz.py FOLDER_OF_FUZZERS [--runs N] [--seconds S] [--keep FOLDER] [HARNESS...]
Ends with "N passed, M failed"; a harness fails if it breaks a promise, leaks, hangs, or tries next
to nothing. What broke it is kept in FOLDER_OF_FUZZERS and should be added to found/HARNESS, whose
inputs are tried first every time. With --keep the inputs that reached something new are kept there
and are where the next run begins.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
SAMPLES = os.path.join(ROOT, "protocol", "samples")
# Longest inputs: enough for the samples, short enough to be quick.
LONGEST = {"frame_fuzz": 2048, "floor_fuzz": 8192, "fleet_fuzz": 2048, "rest_fuzz": 1024}
# Seconds by the wall beyond which an input is a finding; a machine may be busy with other things.
SLOWEST = 25
# Fewer inputs than this in a run is no run.
LEAST = 1000


def read(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


def sample_lines():
    """Every line of every sample exchange."""
    for name in sorted(os.listdir(SAMPLES)):
        if name.endswith(".jsonl"):
            for line in read(os.path.join(SAMPLES, name)).splitlines():
                yield json.loads(line)


def frames():
    for line in sample_lines():
        if "frame" in line:
            yield json.dumps(line["frame"], separators=(",", ":"))
        if "raw" in line:
            yield line["raw"]
    # At the limits of protocol/README.md and just beyond: mutation finds these late.
    for reason in ("x" * 500, "x" * 501, "\u20ac" * 166, "\u20ac" * 167):
        yield json.dumps({"type": "hold", "reason": reason}, ensure_ascii=False)
    for number in (2**53 - 1, 2**53):
        yield json.dumps({"type": "read", "seq": number, "tag": "04A10003", "step": number})
    for tags in (16, 17):
        yield json.dumps({"type": "authority", "trip": 1, "points": [
            {"step": 1, "point": "P" * 32, "tags": [f"04A100{n:02X}" for n in range(tags)],
             "act": "stop"}]})


def floors():
    """The floor files of the project, and small ones cut from them, which are quicker to try."""
    for path in (os.path.join(SAMPLES, "small.floor.json"),
                 os.path.join(ROOT, "deploy", "demo.floor.json")):
        floor = json.loads(read(path))
        yield json.dumps(floor, separators=(",", ":"))
        ids = {point["id"] for point in floor["points"][:4]}
        floor["points"] = floor["points"][:4]
        floor["segments"] = [s for s in floor["segments"] if {s["from"], s["to"]} <= ids]
        floor["stations"] = [s for s in floor.get("stations", []) if s["point"] in ids]
        floor["chargers"] = [c for c in floor.get("chargers", []) if c["point"] in ids]
        for key in ("conflicts", "demand"):
            floor.pop(key, None)
        yield json.dumps(floor, separators=(",", ":"))


def fleets():
    yield read(os.path.join(ROOT, "deploy", "demo.fleet.json"))
    for cart in ({}, {"home": "H1"}, {"home": "P9"}):
        yield json.dumps({"format": "tagline-fleet/1", "carts": [
            {"id": "cart-1", "key": "sample-key-of-cart-1", **cart},
            {"id": "cart-2", "key": "sample-key-of-cart-2"}]})


def requests():
    """What rest_fuzz.cpp takes for a request: first line, key, body."""
    for line in sample_lines():
        if "person" in line:
            yield line["person"] + "\n\n" + (json.dumps(line["body"]) if "body" in line else "")
    job = {"from": "CAST", "to": "DRY", "due": "2026-11-25T14:30:00+01:00", "priority": 9,
           "note": "glazed", "via": [{"station": "DRY", "what": "unload"},
                                     {"station": "CAST", "what": "load"}]}
    yield "POST /api/jobs\nkey-1\n" + json.dumps(job)
    yield "POST /api/stations/DRY/loads\n\n" + json.dumps({"loads": 2})
    for place in ("health", "floor", "alarms", "jobs?state=queued&limit=5", "jobs/1", "jobs/1/why",
                  "carts/cart-1/why", "stations/DRY", "carts/cart%2D1"):
        yield f"GET /api/{place}\n\n"
    for place in ("stop", "release", "jobs/1/cancel", "carts/cart-1/remove"):
        yield f"POST /api/{place}\n\n{{}}"


SEEDS = {"frame_fuzz": frames, "floor_fuzz": floors, "fleet_fuzz": fleets, "rest_fuzz": requests}


def make_seeds(harness, folder):
    for number, text in enumerate(SEEDS[harness]()):
        with open(os.path.join(folder, f"seed-{number:03}"), "w", encoding="utf-8") as file:
            file.write(text)


def run(harness, options, folder):
    """True if the harness tried enough and found nothing."""
    seeds = os.path.join(folder, "seeds")
    corpus = os.path.join(options.keep, harness) if options.keep else os.path.join(folder, "new")
    os.makedirs(seeds)
    os.makedirs(corpus, exist_ok=True)
    make_seeds(harness, seeds)
    found = os.path.join(HERE, "found", harness)
    command = [os.path.join(options.fuzzers, harness), f"-runs={options.runs}",
               f"-max_total_time={options.seconds}", f"-max_len={LONGEST[harness]}",
               f"-timeout={SLOWEST}", "-rss_limit_mb=1500", "-seed=1", "-print_final_stats=1",
               f"-dict={os.path.join(HERE, 'json.dict')}",
               f"-artifact_prefix={options.fuzzers}/{harness}-found-", corpus, seeds]
    done = subprocess.run(command + ([found] if os.path.isdir(found) else []),
                          stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False,
                          errors="replace")
    said = done.stderr
    tried = re.findall(r"number_of_executed_units: *(\d+)", said)
    rate = re.findall(r"average_exec_per_sec: *(\d+)", said)
    covered = re.findall(r"cov: (\d+) ft: (\d+)", said)
    good = done.returncode == 0 and bool(tried) and int(tried[-1]) >= LEAST
    print(f"{harness}: {'good' if good else 'FAILED'}, {tried[-1] if tried else 0} inputs, "
          f"{rate[-1] if rate else 0} a second, edges and features reached: "
          f"{', '.join(covered[-1]) if covered else 'none'}", flush=True)
    if not good:
        print("\n".join(said.splitlines()[-60:]), flush=True)
    return good


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("fuzzers")
    parser.add_argument("harness", nargs="*")
    parser.add_argument("--runs", type=int, default=200_000)
    parser.add_argument("--seconds", type=int, default=15)
    parser.add_argument("--keep")
    options = parser.parse_intermixed_args()
    options.fuzzers = os.path.abspath(options.fuzzers)
    passed = failed = 0
    for harness in options.harness or sorted(SEEDS):
        with tempfile.TemporaryDirectory() as folder:
            if run(harness, options, folder):
                passed += 1
            else:
                failed += 1
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
