#!/usr/bin/env python3
"""Writes a small bag from the text of RFC 8493 alone: make_bag.py FOLDER ALGORITHM."""
import hashlib
import os
import sys

base, algorithm = sys.argv[1:]
files = {
    "data/one.txt": b"one\n",
    "data/deeper/50% & two\n.txt": b"two\n",
    "bagit.txt": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
    "bag-info.txt": b"Contact-Name: Ines Halloway\nPayload-Oxum: 8.2\n",
}
def manifest(wanted):
    escape = lambda p: p.replace("%", "%25").replace("\n", "%0A")
    return "".join(f"{hashlib.new(algorithm, c).hexdigest()}  {escape(p)}\n" for p, c in files.items() if wanted(p)).encode()
files[f"manifest-{algorithm}.txt"] = manifest(lambda p: p.startswith("data/"))
files[f"tagmanifest-{algorithm}.txt"] = manifest(lambda p: not p.startswith("data/"))
for path, content in files.items():
    os.makedirs(os.path.dirname(os.path.join(base, path)), exist_ok=True)
    open(os.path.join(base, path), "wb").write(content)
