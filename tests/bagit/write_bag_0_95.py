"""Writes a BagIt 0.95 bag as draft-kunze-bagit-02 describes it: python3 write_bag_0_95.py FOLDER"""
import hashlib, os, sys

base = sys.argv[1]
payload = {"data/AX1_0001.raw": b"raw " * 5000, "data/print/0001.jpg": b"print"}
tags = {"bagit.txt": b"BagIt-Version: 0.95\nTag-File-Character-Encoding: UTF-8\n",
        "package-info.txt": b"Source-Organization: Example Studio\nPacking-Date: 2008-07-15\n"
        b"Package-Size: 20 KB\nContact-Name: Mira Oslander,\n  keeper of the archive\n"}

def manifest(algorithm, files):
    return "".join(f"{hashlib.new(algorithm, content).hexdigest()}  {path}\n"
                   for path, content in files.items()).encode()

# The manifests together list everything; the tag manifest may leave tag files out.
tags["manifest-md5.txt"] = manifest("md5", dict(list(payload.items())[:1]))
tags["manifest-sha1.txt"] = manifest("sha1", dict(list(payload.items())[1:]))
tags["tagmanifest-md5.txt"] = manifest("md5", {"package-info.txt": tags["package-info.txt"]})
for path, content in {**payload, **tags}.items():
    os.makedirs(os.path.dirname(os.path.join(base, path)) or base, exist_ok=True)
    open(os.path.join(base, path), "wb").write(content)
