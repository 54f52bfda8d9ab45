#!/usr/bin/env python3
"""What becomes of bags in an object store over the years: audit, inspect, mend, restore, clear, the shelf.

    keeping_test.py BUILD
"""
import hashlib
import os
import re

import rig
from fault_proxy import Fault, Rule, Rules
from studio import BAG, Studio

FILM = 17_000_001


class Keeping(Studio):
    def sealed_twice(self, recovery="none", **job):
        drive = self.drive("drive")
        self.glassine(*self.closeout(self.job(**job), drive, self.place(), recovery=recovery))
        self.proxy.log.clear()
        return drive / BAG

    @property
    def there(self):
        return f"{self.place()}/{BAG}"

    def findings(self, bag):
        return {(finding["kind"], finding["path"]) for finding in bag["findings"] if finding["severity"] == "damage"}

    def received(self):
        return sum(entry["received"] for entry in self.proxy.asked("GET"))

    def test_audit_finds_what_was_done_in_the_store(self):
        self.sealed_twice()
        whole = self.ask("audit", self.place())
        self.assertEqual([(bag["path"], bag["valid"]) for bag in whole["bags"]], [(self.there, True)])
        rig.flip(self.bucket, f"archive/{BAG}/data/web/GLS_0001.jpg", 500)
        rig.client().delete_object(Bucket=self.bucket, Key=f"archive/{BAG}/data/print/GLS_0002.jpg")
        rig.client().put_object(Bucket=self.bucket, Key=f"archive/{BAG}/data/web/new.jpg", Body=b"new")
        bag = self.ask("audit", self.there, code=1)["bags"][0]
        self.assertEqual((bag["complete"], bag["valid"]), (False, False))
        self.assertEqual(self.findings(bag) - {("oxum-mismatch", "bag-info.txt")},
                         {("payload-altered", "data/web/GLS_0001.jpg"), ("payload-missing", "data/print/GLS_0002.jpg"),
                          ("payload-unlisted", "data/web/new.jpg")})

    def checksums(self, bag):
        return tuple(bag["store_checksums"][word] for word in ("same", "other"))

    def exchanged(self, bag):
        return [(finding["severity"], finding["path"]) for finding in bag["findings"]
                if finding["kind"] == "object-exchanged"]

    def test_an_exchanged_object_shows_by_the_stores_checksum(self):
        self.ask("shelf", "add", self.place(), "--label", "CLOUD", "--place", "elsewhere", "--kind", "offsite")
        bag, name = self.sealed_twice(), "data/web/GLS_0001.jpg"
        key = f"archive/{BAG}/{name}"
        files = len(self.keys_below(f"archive/{BAG}/"))

        def audit(*how, code=0):
            return self.ask("audit", self.there, *how, code=code)["bags"][0]

        self.assertEqual(self.checksums(audit("--quick")), (files, 0))
        body = rig.body(self.bucket, key)
        # Amazon S3 API Reference, "Object": the ETag of an object that was put in one request is its MD5, that of one
        # put in parts is not.
        self.assertEqual(rig.etag(self.bucket, key), hashlib.md5(body).hexdigest())
        rig.put_in_parts(self.bucket, key, body)
        self.assertNotEqual(rig.etag(self.bucket, key), hashlib.md5(body).hexdigest())
        self.assertEqual(self.exchanged(audit("--quick", code=1)), [("blocking", name)])
        whole = audit()
        self.assertEqual((whole["valid"], self.exchanged(whole)), (True, [("note", name)]))
        self.assertEqual(self.checksums(audit("--quick")), (files, 0))

        rig.flip(self.bucket, key, 500)
        self.assertEqual(self.exchanged(audit("--quick", code=1)), [("blocking", name)])
        # However little may be read, and however new the proof: that one is.
        little = audit("--budget", "1kB", code=1)
        self.assertIn(("payload-altered", name), self.findings(little))
        self.assertIn(("payload-altered", name), self.findings(audit(code=1)))
        self.ask("mend", self.there, "--from", bag)
        self.assertEqual(self.checksums(audit("--quick")), (files, 0))
        self.assertEqual(rig.body(self.bucket, key), body)

    def foreign_bag(self, count):
        bag = self.folder / "foreign"
        lines = []
        for number in range(count):
            path = bag / "data" / f"{number % 7}" / f"note {number}.txt"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(str(number))
            lines.append(f"{hashlib.sha512(path.read_bytes()).hexdigest()}  {path.relative_to(bag)}\n")
        (bag / "manifest-sha512.txt").write_text("".join(lines))
        (bag / "bagit.txt").write_text("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
        rig.send(bag, self.bucket, "archive/foreign")

    def test_more_objects_than_a_page_lists(self):
        """A bag of 1,250 files that Glassine did not make: a listing gives 1,000 at most."""
        self.foreign_bag(1250)
        found = self.ask("audit", f"{self.place()}/foreign")["bags"][0]
        self.assertEqual((found["valid"], found["files"]), (True, 1250))

    def test_a_store_that_goes_away_in_an_audit_is_told_once(self):
        self.foreign_bag(200)
        self.write_studio_file(attempts=4)
        self.proxy.log.clear()
        self.proxy.plan = Rules(Rule(Fault("lose answer"), skip=80))
        told = self.ask("audit", f"{self.place()}/foreign", code=3)
        self.assertEqual([finding["kind"] for finding in told["bags"][0]["findings"]], ["unreadable"])
        self.assertIn("does not answer", told["bags"][0]["findings"][0]["detail"])
        self.assertEqual(told["left"], [f"{self.place()}/foreign"])
        # With all attempts for each file there would be 500 and more.
        self.assertLess(len(self.proxy.log), 320)

    def test_inspect_reads_no_payload(self):
        bag = self.sealed_twice(film=FILM)
        told = self.ask("inspect", self.there)
        self.assertTrue(told["bag"]["complete"])
        self.assertEqual(told["info"], self.ask("inspect", bag)["info"])
        self.assertEqual(self.proxy.asked("GET", key="GLS_FILM"), [])

    def test_mend_fetches_what_it_needs_and_no_more(self):
        """More damage than the recovery data heals: what is left over comes from the store, by ranges."""
        bag = self.sealed_twice(recovery="1", film=FILM)
        film = bag / "data" / "originals" / "GLS_FILM.mov"
        whole = film.read_bytes()
        changed = bytearray(whole)
        for at in range(1_000_000, 5_000_000, 100_000):
            changed[at] ^= 1
        film.chmod(0o644)
        film.write_bytes(changed)
        self.proxy.log.clear()
        told = self.ask("mend", bag, "--from", self.there)
        self.assertIn("data/originals/GLS_FILM.mov", told["healed"])
        self.assertEqual(film.read_bytes(), whole)
        self.assertLess(self.received(), FILM / 2)
        self.accepted_by_sha512sum(bag)

    def test_mend_of_a_lost_file_fetches_that_file(self):
        bag = self.sealed_twice(film=FILM)
        picture = bag / "data" / "web" / "GLS_0001.jpg"
        picture.unlink()
        told = self.ask("mend", bag, "--from", self.there)
        self.assertEqual(told["healed"], ["data/web/GLS_0001.jpg"])
        self.accepted_by_sha512sum(bag)
        self.assertLess(self.received(), 1_000_000)

    def test_mend_in_the_store_from_the_drive(self):
        bag = self.sealed_twice(film=FILM)
        rig.flip(self.bucket, f"archive/{BAG}/data/web/GLS_0001.jpg", 500)
        self.assertEqual(self.ask("mend", self.there, "--from", bag)["healed"], ["data/web/GLS_0001.jpg"])
        self.accepted_by_sha512sum(self.fetched())

    def test_restore_fetches_the_section_that_is_asked_for(self):
        bag = self.sealed_twice(film=FILM)
        self.ask("restore", self.there, "--to", self.folder / "out", "--section", "web")
        got = {re.sub("^web/", "", name): body for name, body in self.tree(self.folder / "out").items()
               if name.endswith(".jpg")}
        self.assertEqual({name: got.get(name) for name in self.tree(bag / "data" / "web")},
                         self.tree(bag / "data" / "web"))
        self.assertLess(self.received(), 1_000_000)

    def times(self, folder):
        return {str(path.relative_to(folder)): path.stat().st_mtime_ns for path in folder.rglob("*") if path.is_file()}

    def test_files_get_their_own_time_back(self):
        bag = self.sealed_twice(film=FILM)
        payload = self.times(bag / "data")
        for number, path in enumerate(sorted(payload)):  # a copy of a bag whose files are of another day
            moment = payload[path] = 1_718_374_800_123_456_000 + number * 1_000_000_000
            os.utime(bag / "data" / path, ns=(moment, moment))
        self.ask("migrate", bag.parent, "--to", self.place("again"))
        there = f"{self.place('again')}/{BAG}"
        self.ask("migrate", self.place("again"), "--to", self.drive("back"))
        self.assertEqual(self.times(self.folder / "back" / BAG / "data"), payload)
        self.ask("restore", there, "--to", self.folder / "out", "--section", "web")
        out = self.times(self.folder / "out")
        self.assertEqual([(path, moment) for path, moment in payload.items()
                          if path.startswith("web/") and out[path] != moment], [])

    def test_migrate_from_a_drive_to_the_store(self):
        drive = self.drive("drive")
        self.glassine(*self.closeout(self.job(film=FILM), drive))
        told = self.ask("migrate", drive, "--to", self.place())
        self.assertEqual([bag["fate"] for bag in told["bags"]], ["carried"])
        self.assertEqual(self.tree(self.fetched()), self.tree(drive / BAG))
        again = self.ask("migrate", drive, "--to", self.place())
        self.assertEqual([bag["fate"] for bag in again["bags"]], ["already"])

    def test_a_budget_of_bytes_fetches_each_file_once(self):
        self.ask("shelf", "add", self.place(), "--label", "CLOUD", "--place", "elsewhere", "--kind", "offsite")
        self.sealed_twice(film=FILM)
        fetched, audits = 0, 0
        while True:
            audits += 1
            self.assertLess(audits, 20)
            self.proxy.log.clear()
            told = self.ask("audit", self.place(), "--budget", "200kB")
            fetched += sum(entry["received"] for entry in self.proxy.asked("GET", key="/data/"))
            if not told["left"]:
                break
            self.assertIsNone(told["bags"][0]["valid"])
        self.assertGreater(audits, 1)
        self.assertIs(told["bags"][0]["valid"], True)
        self.assertLess(abs(fetched - told["bags"][0]["bytes"]), 0.05 * told["bags"][0]["bytes"])

    def test_the_shelf_counts_the_store_as_a_copy(self):
        drive = self.drive("drive")
        self.ask("shelf", "add", drive, "--label", "SHELF-A", "--place", "cupboard", "--kind", "drive")
        self.ask("shelf", "add", self.place(), "--label", "CLOUD", "--place", "elsewhere", "--kind", "offsite")
        job = self.job()
        self.glassine(*self.closeout(job, drive))
        card = job / "originals"
        self.assertFalse(self.ask("clear", card, "--copies", "2", code=1)["clear"])
        self.ask("migrate", drive, "--to", self.place())
        self.assertTrue(self.ask("clear", card, "--copies", "2")["clear"])
        found = self.glassine("shelf", "find", "harbour").out
        self.assertIn("CLOUD (elsewhere)", found)
        self.assertIn("archive/glassine-volume.json", self.keys_below(""))

    def test_a_lost_register_is_rebuilt_from_the_store(self):
        self.ask("shelf", "add", self.place(), "--label", "CLOUD", "--place", "elsewhere", "--kind", "offsite")
        self.glassine(*self.closeout(self.job(), self.place()))
        for register in (self.folder / "home" / "glassine").glob("register.db*"):
            register.unlink()
        self.glassine("shelf", "scan", self.place())
        self.assertIn("CLOUD (elsewhere)", self.glassine("shelf", "find", "harbour").out)


if __name__ == "__main__":
    rig.main()
