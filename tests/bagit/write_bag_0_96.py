"""Writes a BagIt 0.96 bag as draft-kunze-bagit-05 describes it: python3 write_bag_0_96.py FOLDER"""
import hashlib, os, sys

base = sys.argv[1]
payload = {"data/AX1_0001.raw": b"raw " * 5000, "data/print/Ångström.jpg": b"print"}
tags = {"bagit.txt": "BagIt-Version: 0.96\nTag-File-Character-Encoding: ISO-8859-1\n".encode(),
        "bag-info.txt": "Contact-Name: Mira Ångström\nBagging-Date: 2010-10-01\n"
        "Payload-Oxum: 20005.2\n".encode("iso-8859-1")}

# Tag files are in the declared encoding, names on the disk in the system's.
def manifest(files):
    return "".join(f"{hashlib.sha1(content).hexdigest()}\t{path}\n"
                   for path, content in files.items()).encode("iso-8859-1")

tags["manifest-sha1.txt"] = manifest(payload)
tags["tagmanifest-sha1.txt"] = manifest(dict(tags))
for path, content in {**payload, **tags}.items():
    os.makedirs(os.path.dirname(os.path.join(base, path)) or base, exist_ok=True)
    open(os.path.join(base, path), "wb").write(content)
