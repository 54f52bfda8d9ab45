#!/usr/bin/env python3
"""What an object store can say no to: each with a message that says where, nothing lost, and success afterwards.

    refusals_test.py BUILD
"""
import rig
from fault_proxy import Fault, Rule, Rules
from studio import BAG, Studio


class Refusals(Studio):
    SETTINGS = Studio.SETTINGS | {"attempts": 3}

    def refused(self, *words, bucket=None):
        """A close-out to a drive and the store, of which the store's part cannot be done; the drive's is."""
        drive = self.drive("drive")
        run = self.run_any(*self.closeout(self.job(), drive, f"s3://{bucket or self.bucket}/archive"))
        self.assertEqual(run.returncode, 3, run.out + run.err)
        for word in (bucket or self.bucket, *words):
            self.assertIn(word, run.out + run.err)
        self.assertFalse(self.sealed())
        return run

    def then_it_works(self):
        self.proxy.plan = None
        self.glassine(*self.closeout(self.job(), self.place()))
        self.accepted_by_sha512sum(self.fetched())

    def test_a_wrong_secret_key(self):
        self.keys["secret_key"] = "wrong+secret/0123456789abcdefghijklmnop"
        self.refused(self.proxy.endpoint)
        self.keys = dict(rig.store()["users"]["studio"])
        self.then_it_works()

    def test_a_key_that_nobody_has(self):
        self.keys["access_key"] = "GLASSINENOSUCHKEY001"
        self.refused(self.proxy.endpoint)

    def test_no_key_at_all(self):
        self.keys = {"access_key": "", "secret_key": ""}
        run = self.run_any("audit", self.place())
        self.assertEqual(run.returncode, 3)
        self.assertIn("AWS_ACCESS_KEY_ID", run.err)
        self.keys = dict(rig.store()["users"]["studio"])

    def test_a_bucket_that_is_not_there(self):
        self.refused(bucket="no-such-bucket-here")

    def test_a_bucket_of_somebody_else(self):
        self.keys = dict(rig.store()["users"]["stranger"])
        self.refused()

    def test_a_clock_that_is_wrong(self):
        self.proxy.plan = Rules(Rule(Fault("answer", code="RequestTimeTooSkewed")))
        self.assertIn("clock", self.refused().err.lower())
        self.then_it_works()

    def test_a_store_that_is_full(self):
        self.proxy.plan = Rules(Rule(Fault("answer", code="QuotaExceeded"), method="PUT"))
        self.refused()
        self.then_it_works()

    def test_a_store_that_throttles_for_ever(self):
        self.proxy.plan = Rules(Rule(Fault("answer", code="SlowDown"), method="PUT"))
        self.refused()
        self.then_it_works()

    def test_a_store_that_throttles_for_a_while(self):
        self.proxy.plan = Rules(Rule(Fault("answer", code="SlowDown"), times=2, skip=1),
                                Rule(Fault("answer", code="TooManyRequests"), times=2, skip=6))
        self.glassine(*self.closeout(self.job(), self.place()))
        self.accepted_by_sha512sum(self.fetched())

    def test_nobody_at_the_endpoint(self):
        self.proxy.plan = Rules(Rule(Fault("cut request")))
        self.refused(self.proxy.endpoint)
        self.then_it_works()

    def test_objects_locked_against_change(self):
        """A bucket that keeps every object for a day (compliance): the bag is made and proven, and stays."""
        self.bucket = rig.bucket(ObjectLockEnabledForBucket=True)
        rig.client().put_object_lock_configuration(
            Bucket=self.bucket, ObjectLockConfiguration={"ObjectLockEnabled": "Enabled", "Rule": {
                "DefaultRetention": {"Mode": "COMPLIANCE", "Days": 1}}})
        self.glassine(*self.closeout(self.job(), self.place()))
        self.accepted_by_sha512sum(self.fetched())
        bag = self.ask("audit", f"{self.place()}/{BAG}")["bags"][0]
        self.assertTrue(bag["valid"])

    def test_names_too_long_for_the_store_before_the_first_byte(self):
        run = self.run_any(*self.closeout(self.job(), self.place("x" * 1000)))
        self.assertEqual(run.returncode, 3)
        self.assertIn("1,024", run.out + run.err)
        self.assertEqual(self.keys_below(""), {})


if __name__ == "__main__":
    rig.main()
