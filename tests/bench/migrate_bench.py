#!/usr/bin/env python3
"""Measures migrate and restore against what a careful person would do with plain tools.

    migrate_bench.py GLASSINE [--folder DIR] [--gigabytes 4] [--rounds 3]

Made and judged like closeout_bench.py: side by side in one run, in turn, medians, ratios only, every
answer checked. Needs some three times the size of the bag as free space below DIR, and a machine with
nothing else to do.
"""

import argparse
import hashlib
import json
import os
import shutil
import sys
import tempfile
from pathlib import Path

from closeout_bench import noise_file, run, settle, statistics, timed

FILES = 200  # in the web and the print section each


def make_bag(bag, size):
    """A bag by the standard's text alone (RFC 8493), with MD5 as old bags have it."""
    lines = []
    for i in range(2 * FILES):
        name = f"data/{'web' if i % 2 else 'print'}/KRB_{i // 2:04}.jpg"
        noise_file(bag / name, size // (2 * FILES), i)
        lines.append(f"{hashlib.md5((bag / name).read_bytes()).hexdigest()}  {name}\n")
    (bag / "bagit.txt").write_text("BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n")
    (bag / "manifest-md5.txt").write_text("".join(lines))


def drop_cache(folder):
    """Pages of these files leave the cache, so that each side begins in the same state."""
    os.sync()
    for path in Path(folder).rglob("*"):
        if path.is_file():
            with open(path, "rb") as file:
                os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


class Bench:
    def __init__(self, glassine, folder, size, rounds):
        self.glassine = glassine
        self.folder = folder
        self.rounds = rounds
        self.old = folder / "old"
        self.bag = self.old / "bag"
        make_bag(self.bag, size)
        self.sums = folder / "sums.txt"
        with open(self.sums, "wb") as out:
            out.write(run(["bash", "-c", "find . -type f -print0 | xargs -0 sha512sum"],
                          cwd=self.bag).stdout)

    def clean(self, name):
        shutil.rmtree(self.folder / name, ignore_errors=True)
        settle()
        return self.folder / name

    def migrate(self):
        new = self.clean("new")
        new.mkdir()
        drop_cache(self.bag)

        def action():
            out = run([self.glassine, "migrate", self.old, "--to", new, "--json", "--quiet"]).stdout
            assert json.loads(out)["bags"][0]["fate"] == "carried", out

        return timed(action)

    def by_hand(self):
        new = self.clean("new")
        drop_cache(self.bag)

        def action():
            run(["cp", "-r", "--preserve=timestamps", self.old, new])
            os.sync()
            for bag in (self.bag, new / "bag"):
                run(["sha512sum", "-c", "--quiet", self.sums], cwd=bag)

        return timed(action)

    def restore(self):
        out = self.clean("out")
        drop_cache(self.bag)

        def action():
            run([self.glassine, "restore", self.bag, "--to", out, "--section", "web", "--quiet"])

        taken = timed(action)
        assert len(list((out / "web").iterdir())) == FILES
        return taken

    def copy(self, sync):
        out = self.clean("out")
        drop_cache(self.bag)

        def action():
            run(["cp", "-r", "--preserve=timestamps", self.bag / "data/web", out])
            if sync:
                os.sync()

        return timed(action)

    def compare(self, what, limit, at_least, ours, theirs):
        times = [(ours(), theirs()) for _ in range(self.rounds)]
        mine, other = (statistics.median(side) for side in zip(*times))
        ratio = other / mine if at_least else mine / other
        good = limit is None or (ratio >= limit if at_least else ratio <= limit)
        bound = "" if limit is None else f" ({'at least' if at_least else 'at most'} {limit:.2f})"
        print(f"{what}: {ratio:.2f}{bound}{'' if good else '  MISSED'}", flush=True)
        return good


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("glassine", type=Path)
    parser.add_argument("--folder", type=Path, default=None)
    parser.add_argument("--gigabytes", type=float, default=4)
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    if options.folder is not None:
        options.folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        bench = Bench(options.glassine.resolve(), Path(folder), int(options.gigabytes * 1e9),
                      options.rounds)
        good = [
            bench.compare("time of migrate by that of cp -r, sync, sha512sum -c on both sides", 0.6,
                          False, bench.migrate, bench.by_hand),
            bench.compare("speed of restore by that of cp and sync", 0.8, True, bench.restore,
                          lambda: bench.copy(True)),
            bench.compare("speed of restore by that of cp alone, which leaves its bytes in the cache",
                          None, True, bench.restore, lambda: bench.copy(False)),
        ]
    return 0 if all(good) else 1


if __name__ == "__main__":
    sys.exit(main())
