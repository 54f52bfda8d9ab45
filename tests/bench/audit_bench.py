#!/usr/bin/env python3
"""Measures the audit of large and of packed bags against plain tools and against one another.

    audit_bench.py GLASSINE [--folder DIR] [--entries 1000000] [--gigabytes 4] [--rounds 3] [--only NAME]...

    million   a bag of many small files: memory of an audit, and the time without hashing against
              `find -type f -printf` over the same tree
    archive   the audit of a .tar, a .zip and a .tar.gz against that of the same bag as a folder

Every comparison is made side by side in one run, on the same files in the same state of the cache, each
side several times in turn, the medians compared. Ratios are what counts: seconds belong to one machine,
which should have nothing else to do. Exit code 1 when a limit is missed.
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
import tarfile
import threading
import time
import zipfile
from pathlib import Path

MEMORY_LIMIT_MIB = 384
FIND_LIMIT = 3.0
TAR_LIMIT = 0.8


def run(command, **more):
    return subprocess.run([str(c) for c in command], check=True, stdout=subprocess.PIPE, **more).stdout


def timed(action):
    start = time.monotonic()
    action()
    return time.monotonic() - start


def measured(command):
    """What it prints, its seconds and its peak memory in MiB (VmHWM, read while it runs: what getrusage tells of
    a child includes what its parent had when it was started)."""
    start = time.monotonic()
    child = subprocess.Popen([str(c) for c in command], stdout=subprocess.PIPE)
    peak = [0]

    def watch():
        while child.poll() is None:
            try:
                status = Path(f"/proc/{child.pid}/status").read_text()
            except OSError:
                return
            for line in status.splitlines():
                if line.startswith("VmHWM:"):
                    peak[0] = max(peak[0], int(line.split()[1]))
            time.sleep(0.02)

    watcher = threading.Thread(target=watch)
    watcher.start()
    out = child.stdout.read()
    watcher.join()
    code = child.wait()
    assert code == 0, (command, code, out[-2000:])
    return json.loads(out), time.monotonic() - start, peak[0] / 1024


def seal(bag, files):
    """Writes the tag files of a 1.0 bag; `files`: paths under it and their SHA-512, in order."""
    with open(bag / "manifest-sha512.txt", "w") as manifest:
        for path, digest in files:
            manifest.write(f"{digest}  {path}\n")
    (bag / "bagit.txt").write_text("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
    tags = [p for p in ("bagit.txt", "manifest-sha512.txt")]
    lines = [f"{hashlib.sha512((bag / p).read_bytes()).hexdigest()}  {p}\n" for p in tags]
    (bag / "tagmanifest-sha512.txt").write_text("".join(lines))


def small_files(bag, count):
    """A thousand files a folder, named as a scanner names them; a few bytes each."""
    files = []
    for i in range(count):
        folder = bag / f"data/box-{i // 1000:04}"
        if i % 1000 == 0:
            folder.mkdir(parents=True)
        content = b"%d\n" % i
        path = folder / f"photograph-{i:07}.jpg"
        with open(path, "wb") as file:
            file.write(content)
        files.append((str(path.relative_to(bag)), hashlib.sha512(content).hexdigest()))
    seal(bag, files)


def pictures(bag, size, seed=7):
    """Pictures of 5 to 45 MB, as a delivered job has them."""
    generator = random.Random(seed)
    files = []
    (bag / "data").mkdir(parents=True)
    while size > 0:
        content = generator.randbytes(generator.randrange(5_000_000, 45_000_000))
        path = f"data/frame-{len(files):05}.dng"
        (bag / path).write_bytes(content)
        files.append((path, hashlib.sha512(content).hexdigest()))
        size -= len(content)
    seal(bag, files)


class Bench:
    def __init__(self, options):
        self.options = options
        self.missed = []

    def audit(self, path, *more):
        result, seconds, memory = measured([self.options.glassine, "audit", path, "--json", "--quiet", *more])
        assert result["bags"][0]["complete"], result["bags"][0]
        return seconds, memory

    def medians(self, *actions):
        rounds = [[action() for action in actions] for _ in range(self.options.rounds)]
        return [statistics.median(times) for times in zip(*rounds)]

    def hold(self, what, value, limit, at_most):
        good = value <= limit if at_most else value >= limit
        word = "at most" if at_most else "at least"
        print(f"{what:58} {value:8.2f}   {word} {limit}{'' if good else '   MISSED'}")
        if not good:
            self.missed.append(what)

    def million(self, folder):
        bag = folder / "bag"
        bag.mkdir()
        small_files(bag, self.options.entries)
        os.sync()
        listing = ["find", bag, "-type", "f", "-printf", "%s %T@ %p\n"]
        find, quick = self.medians(lambda: timed(lambda: run(listing)), lambda: self.audit(bag, "--quick")[0])
        seconds, memory = self.audit(bag)
        print(f"{self.options.entries} payload files: find {find:.2f} s, audit --quick {quick:.2f} s, audit {seconds:.2f} s")
        self.hold("audit --quick / find -type f -printf", quick / find, FIND_LIMIT, True)
        self.hold("peak memory of the audit, MiB", memory, MEMORY_LIMIT_MIB, True)

    def archive(self, folder):
        bag = folder / "bag"
        pictures(bag, int(self.options.gigabytes * 1e9))
        with tarfile.open(folder / "bag.tar", "w") as archive:
            archive.add(bag, "bag")
        with zipfile.ZipFile(folder / "bag.zip", "w", zipfile.ZIP_STORED) as archive:
            for path in sorted(bag.rglob("*")):
                archive.write(path, path.relative_to(folder))
        with tarfile.open(folder / "bag.tar.gz", "w:gz", compresslevel=1) as archive:
            archive.add(bag, "bag")
        os.sync()
        names = ("bag", "bag.tar", "bag.zip", "bag.tar.gz")
        sides = [lambda n=n: self.audit(folder / n)[0] for n in names]
        sides.append(lambda: timed(lambda: run(["gzip", "-dc", folder / "bag.tar.gz"], stderr=None)))
        of_folder, of_tar, of_zip, of_gz, gzip = self.medians(*sides)
        rate = sum(p.stat().st_size for p in (bag / "data").iterdir()) / of_folder / 1e6
        print(f"the folder: {rate:.0f} MB/s")
        self.hold("rate of the .tar / rate of the folder", of_folder / of_tar, TAR_LIMIT, False)
        print(f"{'rate of the .zip / rate of the folder':58} {of_folder / of_zip:8.2f}")
        print(f"{'rate of the .tar.gz / rate of `gzip -dc`':58} {gzip / of_gz:8.2f}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("glassine", type=Path)
    parser.add_argument("--folder", type=Path, default=Path("."))
    parser.add_argument("--entries", type=int, default=1_000_000)
    parser.add_argument("--gigabytes", type=float, default=4)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--only", action="append", choices=["million", "archive"])
    options = parser.parse_args()
    options.glassine = options.glassine.resolve()
    bench = Bench(options)
    for name in options.only or ["million", "archive"]:
        folder = options.folder.resolve() / f"audit-bench-{name}"
        folder.mkdir()
        try:
            getattr(bench, name)(folder)
        finally:
            shutil.rmtree(folder)
    return 1 if bench.missed else 0


if __name__ == "__main__":
    sys.exit(main())
