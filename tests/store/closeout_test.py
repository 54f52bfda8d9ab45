#!/usr/bin/env python3
"""Closing out to an object store with the real program, looked at with boto3 and sha512sum.

    closeout_test.py BUILD
"""
import json
import subprocess

import rig
from fault_proxy import Fault, Rule, Rules
from studio import BAG, Studio

FILM = 17_000_001  # four parts of 5 MiB
ODD_NAMES = ["Vår flight + 100%.mov", "two  blanks (1) & more.mov", "ünï code #7?.mov", "a+b=c;d,e~f'g.mov"]


class Closeout(Studio):
    def test_a_drive_and_the_store_hold_the_same_bag(self):
        job = self.job(film=FILM)
        for name in ODD_NAMES:
            (job / "originals" / name).write_bytes(name.encode() * 100)
        drive = self.drive("drive")
        told = self.ask(*self.closeout(job, drive, self.place(), recovery="5"))
        self.assertEqual([copy["verified"] for copy in told["copies"]], [True, True])
        self.assertEqual(told["copies"][1]["path"], f"{self.place()}/{BAG}")
        bag = self.fetched()
        self.accepted_by_sha512sum(bag)
        self.assertEqual(self.tree(bag), self.tree(drive / BAG))
        for name in ODD_NAMES:
            self.assertEqual((bag / "data" / "originals" / name).read_bytes(), name.encode() * 100)
        self.nothing_left_over()

    def test_bagit_txt_comes_last(self):
        self.glassine(*self.closeout(self.job(film=FILM), self.place()))
        made = [entry["key"] for entry in self.proxy.log if entry["status"] == 200 and (
            entry["method"] == "PUT" and "partNumber" not in entry["query"] or "uploadId" in entry["query"])]
        bag = [key for key in made if key.startswith(f"archive/{BAG}/")]
        self.assertEqual(bag[-1], f"archive/{BAG}/bagit.txt")
        self.assertEqual(bag.count(bag[-1]), 1)

    def test_the_store_alone_from_a_bad_line(self):
        """Parts are checked by the store and the copy by reading it back: what flips on the way comes to nothing."""
        self.proxy.plan = Rules(Rule(Fault("flip request"), query="partNumber", times=2),
                                Rule(Fault("flip request"), method="PUT", key="web/", times=1),
                                Rule(Fault("cut request"), method="PUT", key="print/", times=1),
                                Rule(Fault("lose answer"), method="POST", query="uploadId", times=1))
        self.glassine(*self.closeout(self.job(film=FILM), self.place()))
        self.accepted_by_sha512sum(self.fetched())
        self.nothing_left_over()

    def test_an_existing_bag_is_never_overwritten(self):
        job = self.job()
        self.glassine(*self.closeout(job, self.place()))
        before = rig.objects(self.bucket, f"archive/{BAG}")
        (job / "web" / "GLS_0001.jpg").unlink()
        again = self.run_any(*self.closeout(job, self.place()))
        self.assertIn(again.returncode, (1, 3))
        self.assertIn(f"{self.place()}/{BAG}", again.out + again.err)
        self.assertEqual(rig.objects(self.bucket, f"archive/{BAG}"), before)

    def test_killed_in_the_middle_and_run_again(self):
        job = self.job(film=8 * FILM)
        self.proxy.rate.rate = 40_000_000
        met = self.killed_when(self.start(*self.closeout(job, self.place())),
                               lambda: len(self.parts_sent()) >= 12)
        self.assertTrue(met)
        self.assertFalse(self.sealed())
        sent = len(self.parts_sent())
        self.proxy.rate.rate = 0
        self.proxy.log.clear()
        self.glassine(*self.closeout(job, self.place()))
        self.accepted_by_sha512sum(self.fetched())
        parts = -(-8 * FILM // (5 << 20))
        self.assertLessEqual(len(self.parts_sent()), parts - sent + 4)  # those under way when it was killed
        self.nothing_left_over()

    def test_an_archive_is_sent_from_the_one_on_a_drive(self):
        job, drive, name = self.job(film=FILM), self.drive("drive"), f"{BAG}.tar"
        told = self.ask(*self.closeout(job, self.place(), drive), "--serialize", "tar")
        self.assertEqual([(copy["path"], copy["verified"]) for copy in told["copies"]],
                         [(f"{self.place()}/{name}", True), (str(drive / name), True)])
        self.assertEqual(rig.body(self.bucket, f"archive/{name}"), (drive / name).read_bytes())
        subprocess.run(["tar", "-xf", drive / name, "-C", drive], check=True)  # GNU tar
        self.accepted_by_sha512sum(drive / BAG)
        self.assertTrue(self.ask("audit", self.place())["bags"][0]["valid"])
        alone = self.glassine(*self.closeout(job, self.place("alone")), "--serialize", "tar", code=2)
        self.assertIn("name a drive", alone.err)
        self.assertEqual(self.keys_below("alone"), {})

    def test_an_archive_that_could_not_be_sent_stands_on_the_drive(self):
        self.proxy.plan = Rules(Rule(Fault("answer", code="AccessDenied"), method="PUT", key=".tar"))
        job, drive = self.job(), self.drive("drive")
        told = self.ask(*self.closeout(job, drive, self.place()), "--serialize", "tar", code=3)
        self.assertEqual([copy["verified"] for copy in told["copies"]], [True, False])
        self.assertIn("do not allow it", told["copies"][1]["failure"])
        self.assertNotIn(f"archive/{BAG}.tar", self.keys_below("archive"))
        self.proxy.plan = None
        again = self.glassine(*self.closeout(job, drive, self.place()), "--serialize", "tar", code=3)
        self.assertIn("`glassine migrate`", again.err)
        self.glassine("migrate", drive, "--to", self.place())
        self.assertEqual(rig.body(self.bucket, f"archive/{BAG}.tar"), (drive / f"{BAG}.tar").read_bytes())
        self.nothing_left_over(f"archive/{BAG}.tar")

    def parts_sent(self):
        return [entry for entry in self.proxy.asked("PUT", query="partNumber") if entry["status"] == 200]

    def test_abandoned_parts_of_another_job_of_this_name_are_cleared(self):
        key = f"archive/{BAG}/data/originals/GONE.mov"
        upload = rig.client().create_multipart_upload(Bucket=self.bucket, Key=key)["UploadId"]
        rig.client().upload_part(Bucket=self.bucket, Key=key, UploadId=upload, PartNumber=1, Body=bytes(5 << 20))
        self.glassine(*self.closeout(self.job(), self.place()))
        self.nothing_left_over()

    def nothing_left_over(self, bag=f"archive/{BAG}/"):
        """No upload under way, no object but those of the bag and what the shelf keeps."""
        self.assertNotIn("Uploads", rig.client().list_multipart_uploads(Bucket=self.bucket))
        beside = [key for key in self.keys_below("") if not key.startswith(bag)]
        self.assertEqual([key for key in beside if not key.rpartition("/")[2].startswith("glassine-")], [])

    def test_proof_by_the_stores_checksum_is_called_so(self):
        self.write_studio_file(proof="store checksum")
        for prefix in ("archive", "second"):
            self.ask("shelf", "add", self.place(prefix), "--label", prefix, "--place", "far", "--kind", "offsite")
        copy = self.ask(*self.closeout(self.job(), self.place()))["copies"][0]
        self.assertTrue(copy["verified"])
        self.assertIn("store checksum", copy["how"])
        self.assertEqual([entry["key"] for entry in self.proxy.asked("GET", key=f"{BAG}/data/")], [])
        self.write_studio_file(proof="read back")
        copy = self.ask(*self.closeout(self.job("other"), self.place("second")))["copies"][0]
        self.assertIn("read back from the store", copy["how"])
        self.assertEqual([self.said_of_proof(prefix) for prefix in ("archive", "second")],
                         ["store checksum, not read back; all files", "read back from the store; all files"])

    def said_of_proof(self, prefix):
        log = rig.body(self.bucket, f"{prefix}/glassine-events.jsonl").decode().splitlines()
        return [event["detail"] for event in map(json.loads, log) if event["type"] == "fixity check"][-1]

    def test_an_object_that_changed_in_the_store_is_not_verified(self):
        """The bytes that come back are what counts, not what was said when they went."""
        self.proxy.plan = Rules(Rule(Fault("flip answer"), method="GET", key="web/"))
        run = self.run_any(*self.closeout(self.job(), self.place()))
        self.assertIn(run.returncode, (1, 3))
        self.assertFalse(self.sealed())

    def test_a_rate_is_kept_to(self):
        import time  # pylint: disable=import-outside-toplevel
        start = time.monotonic()
        self.glassine(*self.closeout(self.job(film=FILM), self.place()), "--rate", "8MB")
        self.assertGreater(time.monotonic() - start, FILM / 8e6 * 0.8)


if __name__ == "__main__":
    rig.main()
