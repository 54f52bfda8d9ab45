"""What the tests against a real object store share: the store, an independent client (boto3), buckets."""
import base64
import functools
import hashlib
import importlib.util
import os
import sys
import unittest
import uuid
from pathlib import Path

import object_store

FOLDER = None  # of the store, from the command line


def main():
    """The tests of the program that calls: TEST.py STORE-FOLDER [what the test needs besides] [unittest's arguments]."""
    global FOLDER  # pylint: disable=global-statement
    FOLDER = Path(sys.argv.pop(1))
    if store() is None:
        print("SKIPPED: no object store (its packages are missing; see tests/store/object_store.py)")
        return
    if importlib.util.find_spec("boto3") is None:
        print("SKIPPED: no independent client (python3-boto3)")
        return
    unittest.main(verbosity=2, warnings="ignore")  # boto3 leaves sockets to the collector


def store():
    return object_store.running(FOLDER)


@functools.cache
def client(endpoint=None, access_key=None, secret_key=None, attempts=5):
    """boto3, which knows nothing of Glassine; signed by the studio unless keys are given."""
    import boto3  # here, as main() first looks whether it is there
    from botocore.config import Config
    keys = store()["users"]["studio"]
    return boto3.client("s3", endpoint_url=endpoint or store()["endpoint"], region_name=store()["region"],
                        aws_access_key_id=access_key or keys["access_key"],
                        aws_secret_access_key=secret_key or keys["secret_key"],
                        config=Config(s3={"addressing_style": "path"}, retries={"total_max_attempts": attempts},
                                      connect_timeout=20, read_timeout=60, max_pool_connections=16))


def bucket(**options):
    """A new bucket; it goes with the store."""
    name = f"t-{os.getpid()}-{uuid.uuid4().hex[:12]}"
    client().create_bucket(Bucket=name, **options)
    return name


def listing(name, prefix=""):
    """Every object of a bucket: key -> size."""
    pages = client().get_paginator("list_objects_v2").paginate(Bucket=name, Prefix=prefix)
    return {entry["Key"]: entry["Size"] for page in pages for entry in page.get("Contents", [])}


def md5_of(body):
    return base64.b64encode(hashlib.md5(body).digest()).decode()
