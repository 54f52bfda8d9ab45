#!/usr/bin/env python3
"""Measures preflight against libjpeg-turbo's own decoder on the same pictures.

    preflight_bench.py GLASSINE [--folder DIR] [--pictures 500] [--different 20] [--rounds 3]

Makes JPEGs of 24 megapixels (some different ones, each under many names; needs Pillow, Debian package
python3-pil, to make them), reads them once into the cache, then lets `djpeg` decode each of them on one core
and `glassine preflight` look at all of them, in turn. Printed are ratios of one run: by the clock, against
cores x djpeg, and by processor time, which says the same on a machine that has other work to do; and the
most memory that preflight held.
"""

import argparse
import os
import resource
import shutil
import statistics
import subprocess
import tempfile
import time
from pathlib import Path


def make_picture(path, seed):
    """Coarse shapes and a sensor's noise: some 10 MB at a studio's quality."""
    from PIL import Image

    size = (6000, 4000)
    channels = []
    for channel in range(3):
        coarse = Image.effect_noise((60, 40), 150 + seed + channel).resize(size, Image.BICUBIC)
        fine = Image.effect_noise(size, 18)
        channels.append(Image.blend(coarse, fine, 0.35))
    Image.merge("RGB", channels).save(path, quality=90, subsampling=2)


def make_job(folder, pictures, different):
    originals = folder / "originals"
    originals.mkdir(parents=True)
    for i in range(pictures):
        path = originals / f"GLS_{i + 1:04}.JPG"
        if i < different:
            make_picture(path, i)
        else:
            os.link(originals / f"GLS_{i % different + 1:04}.JPG", path)
    return sorted(originals.iterdir())


def measured(action):
    """Seconds by the clock and of processor time of what the action starts."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.monotonic()
    action()
    clock = time.monotonic() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return clock, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def djpeg_all(paths):
    for path in paths:
        subprocess.run(["djpeg", "-outfile", "/dev/null", path], check=True)


def preflight(glassine, job):
    ended = subprocess.run([glassine, "preflight", job, "--json"], stdout=subprocess.PIPE,
                           stderr=subprocess.DEVNULL, check=False)
    assert ended.returncode in (0, 1) and b"image-broken" not in ended.stdout, ended.stdout[:2000]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("glassine", type=Path)
    parser.add_argument("--folder", type=Path, default=None)
    parser.add_argument("--pictures", type=int, default=500)
    parser.add_argument("--different", type=int, default=20)
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    cores = len(os.sched_getaffinity(0))
    folder = Path(tempfile.mkdtemp(prefix="preflight-bench-", dir=options.folder))
    try:
        paths = make_job(folder / "job", options.pictures, min(options.different, options.pictures))
        size = sum(p.stat().st_size for p in paths) / len(paths)
        print(f"{len(paths)} JPEGs of 24 megapixels, {size / 1e6:.1f} MB each, {cores} cores, "
              f"load {os.getloadavg()[0]:.1f}")
        for path in paths:
            path.read_bytes()
        clocks, processors = [], []
        for _ in range(options.rounds):
            theirs = measured(lambda: djpeg_all(paths))
            ours = measured(lambda: preflight(options.glassine, folder / "job"))
            clocks.append(theirs[0] / cores / ours[0])
            processors.append(theirs[1] / ours[1])
        print(f"by the clock, of cores x djpeg: {statistics.median(clocks):.2f} "
              f"(rounds: {', '.join(f'{r:.2f}' for r in clocks)})")
        print(f"by processor time, of djpeg: {statistics.median(processors):.2f} "
              f"(rounds: {', '.join(f'{r:.2f}' for r in processors)})")
        most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        print(f"most memory of a process started here: {most:.0f} MiB")
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
