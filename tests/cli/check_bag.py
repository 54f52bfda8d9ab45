#!/usr/bin/env python3
"""Checks a bag from the text of RFC 8493 alone, with nothing but Python's own library.

A second opinion for the tests: shares no code with the program that made the bag.
Prints one line for each deviation; exits 0 when there is none.
"""

import hashlib
import os
import re
import sys


def lines(path):
    with open(path, encoding="utf-8", newline="") as file:
        return [line for line in re.split("\r\n|\n|\r", file.read()) if line]


def unescaped(path):
    # §2.1.3: LF, CR and % are written as %0A, %0D and %25.
    return re.sub("%(0[aAdD]|25)", lambda m: chr(int(m.group(1), 16)), path)


def files_below(base, folder):
    found = set()
    for where, _, names in os.walk(os.path.join(base, folder)):
        found |= {os.path.relpath(os.path.join(where, name), base) for name in names}
    return found


def check(base):
    # §2.1.1: the declaration.
    if lines(f"{base}/bagit.txt") != ["BagIt-Version: 1.0", "Tag-File-Character-Encoding: UTF-8"]:
        yield "bagit.txt is not as the standard has it"
    payload = files_below(base, "data")
    manifests = [name for name in os.listdir(base) if re.fullmatch(r"(tag)?manifest-\w+\.txt", name)]
    if not any(name.startswith("manifest-") for name in manifests):
        yield "there is no payload manifest"
    for name in manifests:
        algorithm = name.split("-")[1][: -len(".txt")]
        listed = set()
        for line in lines(f"{base}/{name}"):
            checksum, path = line.split(None, 1)
            path = unescaped(path)
            listed.add(path)
            with open(f"{base}/{path}", "rb") as file:
                if hashlib.file_digest(file, algorithm).hexdigest() != checksum.lower():
                    yield f"{name}: {path} has another digest"
        if name.startswith("manifest-") and listed != payload:
            yield f"{name} lists other files than those under data/: {listed ^ payload}"
        if name.startswith("tagmanifest-"):
            tags = files_below(base, ".") - payload
            unlisted = {os.path.normpath(t) for t in tags} - listed
            # §2.2.1: a tag manifest must not list itself; all the rest it should.
            if any(not t.startswith(("tagmanifest-", "data/")) for t in unlisted):
                yield f"{name} leaves out {unlisted}"
    # §2.2.2: Payload-Oxum is octets, a point, streams.
    for line in lines(f"{base}/bag-info.txt"):
        if line.startswith("Payload-Oxum:"):
            octets = sum(os.path.getsize(f"{base}/{path}") for path in payload)
            if line.split(":")[1].strip() != f"{octets}.{len(payload)}":
                yield f"{line}, but there are {octets}.{len(payload)}"


if __name__ == "__main__":
    deviations = list(check(sys.argv[1]))
    print("\n".join(deviations))
    sys.exit(1 if deviations else 0)
