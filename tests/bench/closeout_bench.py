#!/usr/bin/env python3
"""Measures close-out and audit against what a careful person would do with plain tools.

    closeout_bench.py GLASSINE [--folder DIR] [--gigabytes 4] [--rounds 3] [--only NAME]...

Every comparison is made side by side in one run, on the same files in the same state of the cache,
each side several times in turn, the medians compared; every answer is checked before it is timed.
Only ratios are printed, each with what it is measured against, since seconds belong to one machine.
Needs some three times the size of the job as free space below DIR, and a machine with nothing else
to do.
"""

import argparse
import hashlib
import json
import os
import random
import re
import resource
import shutil
import statistics
import subprocess
import sys
import time
from pathlib import Path

BAG = "2025-06-14_maren-holt_harbour-gala"


def noise_file(path, size, seed):
    path.parent.mkdir(parents=True, exist_ok=True)
    with open(path, "wb") as file:
        generator = random.Random(seed)
        while size > 0:
            size -= file.write(generator.randbytes(min(size, 1 << 20)))


def make_job(folder, files, size):
    """Films beside one another: bytes to carry and prove, no picture to decode."""
    for i in range(files):
        noise_file(folder / "originals" / f"CLIP{i:05}.mov", size, i)
    return folder


def run(command, **more):
    return subprocess.run([str(c) for c in command], check=True, stdout=subprocess.PIPE, **more)


def timed(action):
    start = time.monotonic()
    action()
    return time.monotonic() - start


def settle():
    os.sync()
    time.sleep(1)


class Bench:
    def __init__(self, glassine, folder, gigabytes, rounds, recovery):
        self.glassine = glassine
        self.folder = folder
        self.rounds = rounds
        self.recovery = recovery
        self.cores = os.cpu_count()
        self.bytes = int(gigabytes * 1e9)
        self.job = None

    # What is measured.

    def closeout(self, job, drives, recovery=None):
        command = [self.glassine, "closeout", job, "--client", "Maren Holt", "--date", "2025-06-14",
                   "--about", "harbour gala", "--accept", "originals-missing", "--recovery",
                   recovery or self.recovery, "--json", "--quiet"]
        for drive in drives:
            drive.mkdir(exist_ok=True)
            command += ["--to", drive]
        result = json.loads(run(command).stdout)
        assert all(copy["verified"] for copy in result["copies"]), result

    def audit(self, bag):
        result = json.loads(run([self.glassine, "audit", bag, "--json", "--quiet"]).stdout)
        assert result["bags"][0]["valid"] is True, result

    def sha512sum_check(self, bag):
        run(["sha512sum", "-c", "--quiet", "manifest-sha512.txt"], cwd=bag)

    def by_hand(self, job, to):
        """cp -r, sync, sha512sum of the copy, and sha512sum -c of that."""
        shutil.rmtree(to, ignore_errors=True)
        run(["cp", "-r", job, to])
        os.sync()
        listing = self.folder / "by-hand.txt"
        with open(listing, "wb") as out:
            subprocess.run("find . -type f -print0 | xargs -0 sha512sum", shell=True, cwd=to,
                           check=True, stdout=out)
        run(["sha512sum", "-c", "--quiet", listing], cwd=to)

    def openssl_speed(self, processes=None):
        """Bytes a second of SHA-512 in blocks of 16 KiB."""
        command = ["openssl", "speed", "-seconds", "3", "-bytes", "16384"]
        if processes:
            command += ["-multi", str(processes)]
        out = run(command + ["sha512"], stderr=subprocess.DEVNULL).stdout.decode()
        return float(re.search(r"^sha512\s+([\d.]+)k", out, re.M).group(1)) * 1000

    # How it is compared.

    def side_by_side(self, *actions):
        """The median time of each, taken in turn."""
        times = [[] for _ in actions]
        for _ in range(self.rounds):
            for action, taken in zip(actions, times):
                settle()
                taken.append(timed(action))
        return [statistics.median(taken) for taken in times]

    def tell(self, what, ratio, limit, at_least=False):
        good = ratio >= limit if at_least else ratio <= limit
        print(f"{what}: {ratio:.2f} ({'at least' if at_least else 'at most'} {limit:.2f})"
              f"{'' if good else '  MISSED'}", flush=True)

    def big_job(self):
        if self.job is None:
            self.job = make_job(self.folder / "job", max(1, self.bytes // 25_000_000), 25_000_000)
        return self.job

    def emptied(self, *names):
        drives = [self.folder / name for name in names]
        for drive in drives:
            shutil.rmtree(drive, ignore_errors=True)
        return drives

    # The measurements.

    def measure_audit(self):
        drives = self.emptied("audited")
        self.closeout(self.big_job(), drives)
        bag = drives[0] / BAG
        self.check_by_python(bag)
        self.sha512sum_check(bag)  # and now it is cached
        payload = sum(f.stat().st_size for f in bag.rglob("*") if f.is_file())
        speeds = [self.openssl_speed()]
        ours, theirs = self.side_by_side(lambda: self.audit(bag), lambda: self.sha512sum_check(bag))
        speeds.append(self.openssl_speed())
        speed = statistics.mean(speeds)
        self.tell("audit of a cached bag, against OpenSSL's SHA-512 times cores",
                  payload / ours / (speed * self.cores), 0.85, at_least=True)
        print(f"  for the record, against `openssl speed -multi {self.cores}`: "
              f"{payload / ours / self.openssl_speed(self.cores):.2f}", flush=True)
        self.tell("audit of a cached bag, against sha512sum -c", ours / theirs, 0.40)
        self.emptied("audited")

    def check_by_python(self, bag):
        """The answer first: an independent digest of some files."""
        lines = (bag / "manifest-sha512.txt").read_text().splitlines()
        for line in random.Random(1).sample(lines, min(5, len(lines))):
            digest, name = line.split("  ", 1)
            with open(bag / name, "rb") as file:
                assert hashlib.file_digest(file, "sha512").hexdigest() == digest, name

    def measure_closeout(self):
        job = self.big_job()
        one, two, by_hand = (self.folder / n for n in ("one", "two", "by-hand"))

        def first():
            self.closeout(job, [one])

        def both():
            self.closeout(job, [one, two])

        times = {"first": [], "both": [], "hand": []}
        for _ in range(self.rounds):
            for name, action in (("first", first), ("hand", lambda: self.by_hand(job, by_hand)),
                                 ("both", both)):
                self.emptied("one", "two", "by-hand")
                settle()
                times[name].append(timed(action))
        one_copy, hand, two_copies = (statistics.median(times[n]) for n in ("first", "hand", "both"))
        self.tell("close-out to one destination, against cp, sync, sha512sum and sha512sum -c",
                  one_copy / hand, 0.60)
        self.tell("the second destination on the same disk, against the first",
                  (two_copies - one_copy) / one_copy, 0.90)
        self.emptied("one", "two", "by-hand")

    def measure_memory(self):
        peaks = {}
        for files in (100, 20_000):
            job = make_job(self.folder / f"job-of-{files}", files, 400_000_000 // files)
            drives = self.emptied("one")
            drives[0].mkdir()
            closed = self.peak([self.glassine, "closeout", job, "--client", "Maren Holt", "--date",
                                "2025-06-14", "--about", "harbour gala", "--accept",
                                "originals-missing", "--recovery", self.recovery, "--quiet",
                                "--to", drives[0]])
            audited = self.peak([self.glassine, "audit", drives[0] / BAG, "--quiet"])
            peaks[files] = (closed, audited)
            shutil.rmtree(job)
        limit = 128 << 20
        for what, i in (("close-out", 0), ("audit", 1)):
            for files in peaks:
                self.tell(f"peak memory of {what} of {files} files, of 128 MiB",
                          peaks[files][i] / limit, 1.0)
            self.tell(f"peak memory of {what}: 20,000 files against 100",
                      peaks[20_000][i] / peaks[100][i], 1.10)
        self.emptied("one")

    def measure_recovery(self):
        """What recovery data at 5 % adds, by the clock and by processor time (which says the same on
        a machine that has other work to do), its size, and the memory held."""
        job = self.big_job()
        drive = self.folder / "one"
        clock, processor = {"none": [], "5": []}, {"none": [], "5": []}
        for _ in range(self.rounds):
            for recovery in clock:
                self.emptied("one")
                settle()
                before = resource.getrusage(resource.RUSAGE_CHILDREN)
                clock[recovery].append(timed(lambda: self.closeout(job, [drive], recovery)))
                after = resource.getrusage(resource.RUSAGE_CHILDREN)
                processor[recovery].append(after.ru_utime + after.ru_stime - before.ru_utime -
                                           before.ru_stime)
        for what, taken in (("the clock", clock), ("processor time", processor)):
            without, with_recovery = (statistics.median(taken[r]) for r in ("none", "5"))
            self.tell(f"what recovery data add to a close-out, by {what} (load "
                      f"{os.getloadavg()[0]:.1f})", with_recovery / without - 1, 0.20)
        size = sum(f.stat().st_size for f in (drive / BAG / "recovery").iterdir())
        payload = sum(f.stat().st_size for f in (drive / BAG / "data").rglob("*") if f.is_file())
        self.tell("size of the recovery data, percent of the payload", 100 * size / payload, 5.5)
        self.emptied("one")
        drive.mkdir()
        peak = self.peak([self.glassine, "closeout", job, "--client", "Maren Holt", "--date",
                          "2025-06-14", "--about", "harbour gala", "--accept", "originals-missing",
                          "--recovery", "5", "--quiet", "--to", drive])
        self.tell("peak memory of a close-out with recovery data, of 256 MiB", peak / (256 << 20),
                  1.0)
        self.emptied("one")

    def peak(self, command):
        """The largest resident set of a run, in bytes (getrusage(2))."""
        process = subprocess.Popen([str(c) for c in command])
        _, status, usage = os.wait4(process.pid, 0)
        assert os.waitstatus_to_exitcode(status) == 0, command
        return usage.ru_maxrss * 1024


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("glassine", type=Path)
    parser.add_argument("--folder", type=Path, default=Path("glassine-bench"))
    parser.add_argument("--gigabytes", type=float, default=4)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--recovery", default="none", help="recovery data in percent, or none")
    parser.add_argument("--only", action="append", choices=["audit", "closeout", "memory", "recovery"])
    options = parser.parse_args()
    options.folder.mkdir(parents=True)
    folder = options.folder.resolve()
    bench = Bench(options.glassine.resolve(), folder, options.gigabytes, options.rounds,
                  options.recovery)
    try:
        for name in options.only or ["audit", "closeout", "memory", "recovery"]:
            getattr(bench, f"measure_{name}")()
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    sys.exit(main())
