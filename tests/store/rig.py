"""What the tests against a real object store share: the store, an independent client (boto3), buckets."""
import base64
import functools
import hashlib
import importlib.util
import os
import sys
import unittest
import uuid
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import object_store

BUILD = None  # the build folder, from the command line


def main():
    """The tests of the program that calls: TEST.py BUILD [unittest's arguments]."""
    global BUILD  # pylint: disable=global-statement
    BUILD = Path(sys.argv.pop(1)).resolve()
    if store() is None:
        print("SKIPPED: no object store runs (see tests/store/object_store.py)")
        return
    if importlib.util.find_spec("boto3") is None:
        print("SKIPPED: no independent client (python3-boto3)")
        return
    unittest.main(verbosity=2, warnings="ignore")  # boto3 leaves sockets to the collector


def store():
    return object_store.running(BUILD / "tests" / "object-store")


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


def objects(name, prefix=""):
    """What the store says of every object: key -> its entry in the listing."""
    pages = client().get_paginator("list_objects_v2").paginate(Bucket=name, Prefix=prefix)
    return {entry["Key"]: entry for page in pages for entry in page.get("Contents", [])}


def listing(name, prefix=""):
    return {key: entry["Size"] for key, entry in objects(name, prefix).items()}


def body(name, key):
    return client().get_object(Bucket=name, Key=key)["Body"].read()


def at_once(action, values):
    with ThreadPoolExecutor(8) as threads:
        return list(threads.map(action, values))


def fetch(name, prefix, folder):
    """Every object below a prefix, into a folder."""
    prefix = prefix.rstrip("/") + "/"

    def one(key):
        path = folder / key[len(prefix):]
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(body(name, key))
    at_once(one, listing(name, prefix))


def send(folder, name, prefix):
    """A folder's files, as objects below a prefix."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    at_once(lambda path: client().put_object(Bucket=name, Key=f"{prefix}/{path.relative_to(folder)}",
                                             Body=path.read_bytes()), files)


def flip(name, key, at):
    """Turns one bit of an object, as a store might."""
    changed = bytearray(body(name, key))
    changed[at] ^= 4
    client().put_object(Bucket=name, Key=key, Body=bytes(changed))


def etag(name, key):
    return client().head_object(Bucket=name, Key=key)["ETag"].strip('"')


def put_in_parts(name, key, content):
    """One part, which makes an object of the same bytes and another ETag."""
    upload = {"Bucket": name, "Key": key}
    upload["UploadId"] = client().create_multipart_upload(**upload)["UploadId"]
    part = client().upload_part(**upload, PartNumber=1, Body=content)["ETag"]
    client().complete_multipart_upload(**upload, MultipartUpload={"Parts": [{"PartNumber": 1, "ETag": part}]})


def md5_of(content):
    return base64.b64encode(hashlib.md5(content).digest()).decode()
