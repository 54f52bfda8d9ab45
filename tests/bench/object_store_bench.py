#!/usr/bin/env python3
"""Measures an object store on this machine as a destination and as a place to audit.

    object_store_bench.py GLASSINE [--folder DIR] [--megabytes 400] [--objects 10000] [--rounds 3] [--only NAME]...

    upload     close-out to the store alone, which proves it by the store's checksums, against boto3's transfer
               manager with as many connections and parts of the same size
    both       close-out to one drive and the store, against the longer of the two alone
    line       the same over a line of 100 MB/s, as the studio file's rate makes it
    audit      of many objects of 64 KiB, with 16 requests under way against one, beside what curl gains by the same
    far        the same over a line that takes 20 ms, a tenth of the objects

Where the store has no cores of its own, `both` and `audit` measure how its work and Glassine's share them: curl's gain
is what is to be had there. `line` and `far` measure what a studio has, a store behind a line.

Everything is compared side by side in one run, each side several times in turn, the medians compared; every answer is
checked before it is timed, and the peak memory of every run is looked at. Ratios are what counts: seconds belong to
one machine, which should have nothing else to do. The store is that of tests/store/object_store.py, started for this
and ended with it. Needs Debian's python3-boto3 (run it with /usr/bin/python3). Exit code 1 when a limit is missed.
"""
import argparse
import hashlib
import json
import os
import random
import shutil
import statistics
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import boto3
from boto3.s3.transfer import TransferConfig, create_transfer_manager
from botocore.config import Config

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "store"))
import object_store  # noqa: E402 -- it lies beside the tests that use it too
from fault_proxy import Fault, FaultProxy, Rule, Rules  # noqa: E402

BAG = "2025-06-14_maren-holt_harbour-gala"
CONNECTIONS = 8
PART_MIB = 16
FILM = 50_000_000
OBJECT = 64 << 10
LINE = "100 MB/s"
FAR = 0.02  # seconds
MEMORY_LIMIT = 256 << 10  # KiB


def timed(action):
    start = time.monotonic()
    action()
    return time.monotonic() - start


def settle():
    os.sync()
    time.sleep(1)


class Bench:
    def __init__(self, options, store):
        self.glassine = options.glassine.resolve()
        self.folder = options.folder.resolve()
        self.rounds = options.rounds
        self.films = max(1, options.megabytes * 1_000_000 // FILM)
        self.objects = options.objects
        self.endpoint = store.endpoint
        self.keys = object_store.USERS["studio"]
        self.client = boto3.client(
            "s3", endpoint_url=store.endpoint, region_name=object_store.REGION,
            aws_access_key_id=self.keys["access_key"], aws_secret_access_key=self.keys["secret_key"],
            config=Config(s3={"addressing_style": "path"}, max_pool_connections=CONNECTIONS))
        self.client.create_bucket(Bucket="bench")
        self.peak = 0  # KiB
        self.missed = False
        self.job = self.folder / "job"

    # What is measured.

    def run(self, *arguments, connections=CONNECTIONS, proof="read back", rate=""):
        """What Glassine answers; its peak memory is that of VmHWM, read while it runs."""
        home = self.folder / "home" / "glassine"
        home.mkdir(parents=True, exist_ok=True)
        (home / "studio.toml").write_text(
            f'[object_store]\nendpoint = "{self.endpoint}"\nconnections = {connections}\n'
            f'part_size = "{PART_MIB} MiB"\nproof = "{proof}"\n' + (f'rate = "{rate}"\n' if rate else ""))
        environment = dict(os.environ, AWS_ACCESS_KEY_ID=self.keys["access_key"],
                           AWS_SECRET_ACCESS_KEY=self.keys["secret_key"])
        for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
            environment[name] = str(self.folder / "home")
        with open(self.folder / "said", "w+b") as said:
            child = subprocess.Popen([str(self.glassine), *map(str, arguments), "--json", "--quiet"],
                                     env=environment, stdout=said)
            while child.poll() is None:
                self.look_at_memory(child.pid)
                time.sleep(0.02)
            said.seek(0)
            told = said.read()
        assert child.returncode == 0, told
        return json.loads(told)

    def look_at_memory(self, pid):
        try:
            status = Path(f"/proc/{pid}/status").read_text()
        except OSError:
            return
        for line in status.splitlines():
            if line.startswith("VmHWM:"):
                self.peak = max(self.peak, int(line.split()[1]))

    def closeout(self, *destinations, **settings):
        to = [word for destination in destinations for word in ("--to", destination)]
        told = self.run("closeout", self.job, *to, "--client", "Maren Holt", "--date", "2025-06-14", "--about",
                        "harbour gala", "--accept", "originals-missing", "--recovery", "none", **settings)
        assert all(copy["verified"] for copy in told["copies"]), told

    def by_boto3(self):
        config = TransferConfig(multipart_threshold=PART_MIB << 20, multipart_chunksize=PART_MIB << 20,
                                max_concurrency=CONNECTIONS)
        with create_transfer_manager(self.client, config) as manager:
            sent = [manager.upload(str(path), "bench", f"boto3/{path.name}")
                    for path in sorted((self.job / "originals").iterdir())]
            for one in sent:
                one.result()

    # How it is compared.

    def write_job(self):
        for i in range(self.films):
            path = self.job / "originals" / f"CLIP{i:05}.mov"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(random.Random(i).randbytes(FILM))

    def emptied(self):
        shutil.rmtree(self.folder / "drive", ignore_errors=True)
        (self.folder / "drive").mkdir()
        for prefix in ("boto3/", "archive/"):
            for page in self.client.get_paginator("list_objects_v2").paginate(Bucket="bench", Prefix=prefix):
                keys = [{"Key": entry["Key"]} for entry in page.get("Contents", [])]
                if keys:
                    self.client.delete_objects(Bucket="bench", Delete={"Objects": keys})

    def side_by_side(self, *actions):
        """The median time of each, taken in turn, each from an empty drive and prefix."""
        times = [[] for _ in actions]
        for _ in range(self.rounds):
            for action, taken in zip(actions, times):
                self.emptied()
                settle()
                taken.append(timed(action))
        return [statistics.median(taken) for taken in times]

    def tell(self, what, ratio, limit, at_least=False):
        good = ratio >= limit if at_least else ratio <= limit
        self.missed = self.missed or not good
        print(f"{what}: {ratio:.2f} ({'at least' if at_least else 'at most'} {limit:.2f})"
              f"{'' if good else '  MISSED'}", flush=True)

    # The measurements.

    def measure_upload(self):
        theirs, ours = self.side_by_side(
            self.by_boto3, lambda: self.closeout("s3://bench/archive", proof="store checksum"))
        self.tell(f"rate of an upload with {CONNECTIONS} connections, against boto3", theirs / ours, 0.8, at_least=True)

    def measure_both(self, rate="", where=""):
        drive, there = self.folder / "drive", "s3://bench/archive"
        one, other, both = self.side_by_side(lambda: self.closeout(drive), lambda: self.closeout(there, rate=rate),
                                             lambda: self.closeout(drive, there, rate=rate))
        self.tell(f"close-out to a drive and the store{where}, against the longer of the two alone",
                  both / max(one, other), 1.1)

    def measure_line(self):
        self.measure_both(LINE, f" over a line of {LINE}")

    def measure_audit(self):
        prefix = f"small/{BAG}"
        names = self.write_bag(prefix, self.objects)
        one, many, curl_one, curl_many = self.side_by_side(
            lambda: self.audit(prefix, self.objects, 1), lambda: self.audit(prefix, self.objects, 16),
            lambda: self.by_curl(prefix, names, 1), lambda: self.by_curl(prefix, names, 16))
        self.tell(f"audit of {self.objects} objects with 1 request under way, against 16", one / many, 3, at_least=True)
        self.tell("the same gain, against that of curl", one / many / (curl_one / curl_many), 0.9, at_least=True)

    def measure_far(self):
        prefix, count = f"far/{BAG}", self.objects // 10
        self.write_bag(prefix, count)
        near = self.endpoint
        with FaultProxy(near, Rules(Rule(Fault("delay", seconds=FAR)))) as line:
            self.endpoint = line.endpoint
            one, many = self.side_by_side(lambda: self.audit(prefix, count, 1), lambda: self.audit(prefix, count, 16))
            self.endpoint = near
        self.tell(f"audit of {count} objects over a line that takes {FAR * 1000:.0f} ms, with 1 request under way, "
                  "against 16", one / many, 3, at_least=True)

    def audit(self, prefix, count, connections):
        told = self.run("audit", f"s3://bench/{prefix}", connections=connections)["bags"][0]
        assert (told["valid"], told["files"]) == (True, count), told

    def by_curl(self, prefix, names, connections):
        """The same objects, read and thrown away, by addresses that boto3 has signed."""
        wanted = self.folder / "wanted"
        if not wanted.exists():
            wanted.write_text("".join(
                f'url = "{self.client.generate_presigned_url("get_object", {"Bucket": "bench", "Key": key})}"\n'
                'output = "/dev/null"\n' for key in (f"{prefix}/{name}" for name in names)))
        subprocess.run(["curl", "--silent", "--fail", "--parallel", "--parallel-immediate", "--parallel-max",
                        str(connections), "--config", wanted], check=True, stdout=subprocess.DEVNULL,
                       stderr=subprocess.DEVNULL)

    def write_bag(self, prefix, count):
        """A bag that Glassine did not make, by hashlib and boto3; gives the names of its files."""
        def one(number):
            body = random.Random(number).randbytes(OBJECT)
            name = f"data/{number // 1000:02}/{number:06}.jpg"
            self.client.put_object(Bucket="bench", Key=f"{prefix}/{name}", Body=body)
            return hashlib.sha512(body).hexdigest(), name

        with ThreadPoolExecutor(CONNECTIONS) as threads:
            lines = list(threads.map(one, range(count)))
        manifest = "".join(f"{digest}  {name}\n" for digest, name in lines)
        for name, text in (("manifest-sha512.txt", manifest),
                           ("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")):
            self.client.put_object(Bucket="bench", Key=f"{prefix}/{name}", Body=text.encode())
        return [name for _, name in lines]


def main():
    measurements = ["upload", "both", "line", "audit", "far"]
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("glassine", type=Path)
    parser.add_argument("--folder", type=Path, default=Path("glassine-bench"))
    parser.add_argument("--megabytes", type=int, default=400)
    parser.add_argument("--objects", type=int, default=10_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--only", action="append", choices=measurements)
    options = parser.parse_args()
    options.folder.mkdir(parents=True)
    try:
        with object_store.Store(options.folder.resolve() / "store") as store:
            bench = Bench(options, store)
            bench.write_job()
            for name in options.only or measurements:
                getattr(bench, f"measure_{name}")()
            bench.tell("peak memory of all these, of 256 MiB", bench.peak / MEMORY_LIMIT, 1)
    except object_store.Missing as missing:
        print(f"SKIPPED: {missing}")
        return object_store.SKIPPED
    finally:
        shutil.rmtree(options.folder)
    return 1 if bench.missed else 0


if __name__ == "__main__":
    sys.exit(main())
