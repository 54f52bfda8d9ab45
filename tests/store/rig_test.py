#!/usr/bin/env python3
"""The rig itself: the store takes and gives with an independent client, and the proxy fails as it says.

    rig_test.py BUILD
"""
import contextlib
import hashlib
import unittest

import rig
from fault_proxy import Chance, Fault, FaultProxy, Rule, Rules

with contextlib.suppress(ImportError):  # then main() says so
    from botocore.exceptions import BotoCoreError, ClientError, HTTPClientError

BODY = bytes(range(256)) * 4096


class TheStore(unittest.TestCase):
    def setUp(self):
        self.bucket = rig.bucket()

    def test_gives_back_what_it_took(self):
        rig.client().put_object(Bucket=self.bucket, Key="a b+c%é", Body=BODY)
        self.assertEqual(rig.client().get_object(Bucket=self.bucket, Key="a b+c%é")["Body"].read(), BODY)

    def test_refuses_the_stranger_and_a_wrong_key(self):
        wrong = dict(rig.store()["users"]["studio"], secret_key="wrong")
        for keys, code in ((rig.store()["users"]["stranger"], "AccessDenied"), (wrong, "SignatureDoesNotMatch")):
            with self.assertRaises(ClientError) as refused:
                rig.client(**keys).list_objects_v2(Bucket=self.bucket)
            self.assertEqual(refused.exception.response["Error"]["Code"], code)


class TheProxy(unittest.TestCase):
    def setUp(self):
        self.bucket = rig.bucket()
        self.proxy = self.enterContext(FaultProxy(rig.store()["endpoint"]))
        self.client = rig.client(self.proxy.endpoint, attempts=1)

    def put(self):
        return self.client.put_object(Bucket=self.bucket, Key="film.mov", Body=BODY)

    def get(self):
        return self.client.get_object(Bucket=self.bucket, Key="film.mov")["Body"].read()

    def stored(self):
        return rig.listing(self.bucket)

    def test_hands_on_what_it_leaves_alone_and_logs_it(self):
        self.put()
        self.client.get_object(Bucket=self.bucket, Key="film.mov", Range="bytes=10-19")["Body"].read()
        put, got = self.proxy.log
        self.assertEqual((put["method"], put["key"], put["sent"]), ("PUT", "film.mov", len(BODY)))
        self.assertEqual((got["range"], got["received"], got["status"]), ("bytes=10-19", 10, 206))

    def test_cuts(self):
        self.proxy.plan = Rules(Rule(Fault("cut request"), method="PUT", times=1))
        self.assertRaises(HTTPClientError, self.put)
        self.assertEqual(self.stored(), {})
        self.put()
        self.proxy.plan = Rules(Rule(Fault("cut answer"), method="GET"))
        self.assertRaises((BotoCoreError, OSError), self.get)
        self.assertEqual(self.proxy.asked("GET")[0]["received"], len(BODY) // 2)

    def test_loses_an_answer_after_the_deed(self):
        self.proxy.plan = Rules(Rule(Fault("lose answer")))
        self.assertRaises(HTTPClientError, self.put)
        self.assertEqual(self.stored(), {"film.mov": len(BODY)})

    def test_flips_bits_both_ways(self):
        self.proxy.plan = Rules(Rule(Fault("flip request"), method="PUT", times=1), Rule(Fault("flip answer"), "GET"))
        with self.assertRaises(ClientError) as refused:  # Content-MD5 or the signed digest of the body
            self.client.put_object(Bucket=self.bucket, Key="film.mov", Body=BODY,
                                   ContentMD5=rig.md5_of(BODY))
        self.assertEqual(refused.exception.response["ResponseMetadata"]["HTTPStatusCode"], 400)
        self.put()
        got = self.get()
        self.assertEqual(sum(a != b for a, b in zip(got, BODY)), 1)
        self.assertNotEqual(hashlib.sha512(got).digest(), hashlib.sha512(BODY).digest())

    def test_shortens(self):
        self.put()
        self.proxy.plan = Rules(Rule(Fault("shorten answer", at=0.25), method="GET"))
        self.assertEqual(self.get(), BODY[:len(BODY) // 4])

    def test_answers_for_the_store(self):
        for code, status in (("SlowDown", 503), ("QuotaExceeded", 507), ("RequestTimeTooSkewed", 403)):
            self.proxy.plan = Rules(Rule(Fault("answer", code=code)))
            with self.assertRaises(ClientError) as refused:
                self.put()
            self.assertEqual(refused.exception.response["Error"]["Code"], code)
            self.assertEqual(refused.exception.response["ResponseMetadata"]["HTTPStatusCode"], status)
        self.assertEqual(self.stored(), {})

    def test_fails_by_chance_alike_for_one_seed(self):
        seen = []
        for _ in range(2):
            self.proxy.plan, self.proxy.log = Chance(7, share=0.5), []
            for _ in range(20):
                try:
                    self.put()
                except (ClientError, BotoCoreError):
                    pass
            seen.append([entry["fault"] for entry in self.proxy.log])
        self.assertEqual(seen[0], seen[1])
        self.assertGreater(len(set(seen[0])), 3)


if __name__ == "__main__":
    rig.main()
