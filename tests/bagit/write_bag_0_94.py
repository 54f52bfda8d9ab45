"""Writes a BagIt 0.94 bag as draft-kunze-bagit-01 describes it: python3 write_bag_0_94.py FOLDER"""
import hashlib, os, sys

base = sys.argv[1]
payload = {"data/AX1_0001.raw": b"raw " * 5000, "data/print/0001.jpg": b"print"}
tags = {"bagit.txt": b"BagIt-Version: 0.94\nTag-File-Character-Encoding: UTF-8\n",
        "package-info.txt": b"Source-Organization: Example Studio\nDelivery-Date: 2008-05-15\n"
        b"Package-Size: 20 KB\nContact-Name: Mira Oslander,\n  keeper of the archive\n"}

# Every manifest lists every payload file and may list tag files, then the same ones everywhere.
def manifest(algorithm, files):
    return "".join(f"{hashlib.new(algorithm, content).hexdigest()} {path}\n"
                   for path, content in files.items()).encode()

listed = {**payload, "package-info.txt": tags["package-info.txt"]}
tags["manifest-md5.txt"] = manifest("md5", listed)
tags["manifest-sha1.txt"] = manifest("sha1", listed)
# The checksum of a tag file stands in a file of its own beside it.
for name in ("manifest-md5.txt", "manifest-sha1.txt", "bagit.txt"):
    tags[name + ".md5"] = (hashlib.md5(tags[name]).hexdigest() + "\n").encode()
for path, content in {**payload, **tags}.items():
    os.makedirs(os.path.dirname(os.path.join(base, path)) or base, exist_ok=True)
    open(os.path.join(base, path), "wb").write(content)
