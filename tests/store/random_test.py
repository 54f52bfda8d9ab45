#!/usr/bin/env python3
"""Small jobs, closed out one after the other over a line that fails at random, with kill -9 mixed in.

    random_test.py BUILD

Whatever happens: a bag that has bagit.txt under its name in the store is whole (boto3 and sha512sum say so), every
run can be repeated to success, and no secret stands in any output. GLASSINE_STORE_JOBS says how many jobs (default
12); GLASSINE_STORE_SEED from which seed on, to repeat one that failed: its number is in the message.
"""
import os
import random
import shutil
import time

import rig
from fault_proxy import Chance
from studio import BAG, Studio

JOBS = int(os.environ.get("GLASSINE_STORE_JOBS", "12"))
FIRST = int(os.environ.get("GLASSINE_STORE_SEED", "1"))
WORST_RUNS = 6  # of a job over the bad line, before the line is good again


class AtRandom(Studio):
    SETTINGS = {"connections": 4, "part_size": "5 MiB", "attempts": 4, "patience": 5}

    def test_every_bag_under_its_name_is_whole(self):
        self.write_jobs()
        kills = faults = 0
        for seed in range(FIRST, FIRST + JOBS):
            with self.subTest(seed=seed):
                self.bucket = rig.bucket()
                self.proxy.log.clear()
                kills += self.one_job(random.Random(seed), f"seed-{seed}")
                faults += sum(entry["fault"] is not None for entry in self.proxy.log)
                self.no_secret_anywhere()
                self.said.clear()
        print(f"{JOBS} jobs from seed {FIRST}: {kills} killed runs, {faults} faults", flush=True)

    def write_jobs(self):
        """Two kinds to draw from: small pictures only, and some with a film that goes in parts."""
        self.jobs = [self.job("pictures", kept=1), self.job("film", kept=1, film=11_000_000)]

    def one_job(self, chance, prefix):
        """Runs that fail or are killed, then one that must not; how many were killed."""
        job = chance.choices(self.jobs, [3, 1])[0]
        drives = [self.drive(prefix)] if chance.random() < 0.3 else []
        command = self.closeout(job, *drives, self.place(prefix), recovery=chance.choice(["none", "5"]))
        kills = 0
        for _ in range(chance.randrange(1, WORST_RUNS)):
            self.proxy.plan = Chance(chance.random(), share=chance.choice([0.02, 0.1, 0.3]))
            killed = chance.random() < 0.5
            run = self.start(*command)
            if killed:
                end = time.monotonic() + chance.random() * chance.choice([0.2, 1.0])
                kills += self.killed_when(run, lambda end=end: time.monotonic() > end)
            else:
                self.ended(run)
            self.whole_or_not_there(prefix, drives)
            if not killed and run.returncode == 0:
                break
        self.proxy.plan = None
        self.repeated_to_success(command, prefix, drives)
        for drive in drives:
            shutil.rmtree(drive)
        return kills

    def whole_or_not_there(self, prefix, drives):
        if self.sealed(f"{prefix}/{BAG}"):
            bag = self.fetched(f"{prefix}/{BAG}")
            self.accepted_by_sha512sum(bag)
            shutil.rmtree(bag)
        for drive in drives:
            if (drive / BAG).exists():
                self.accepted_by_sha512sum(drive / BAG)

    def repeated_to_success(self, command, prefix, drives):
        """Either it succeeds, or the bag stands there already, sealed by a run that did not live to say so."""
        run = self.run_any(*command)
        self.assertTrue(self.sealed(f"{prefix}/{BAG}"), run.out + run.err)
        self.whole_or_not_there(prefix, drives)
        self.assertNotIn("Uploads", rig.client().list_multipart_uploads(Bucket=self.bucket))
        again = self.ask("audit", f"{self.place(prefix)}/{BAG}")
        self.assertEqual([bag["valid"] for bag in again["bags"]], [True])


if __name__ == "__main__":
    rig.main()
