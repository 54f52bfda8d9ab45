"""Writes a BagIt 0.97 bag as draft-kunze-bagit-14 describes it: python3 write_bag_0_97.py FOLDER"""
import hashlib, os, sys

base = sys.argv[1]
first = {"data/originals/AX1_0001.raw": b"raw " * 5000}
second = {"data/print/50% off.jpg": b"print", "data/print/list of prints.txt": b"names"}
tags = {"bagit.txt": b"BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n",
        "bag-info.txt": b"Contact-Name :  Mira Oslander\r\nClient-Name: Ada\r\nClient-Name: Bo\r\n"
        b"External-Description: Sailing gala,\r\n   second day\r\nBag-Size: 20 KB\r\n",
        "notes/plan.xml": b"<plan/>"}

# At least one manifest lists each file; a star may stand before the path; nothing is percent-encoded.
def manifest(algorithm, files):
    return "".join(f"{hashlib.new(algorithm, content).hexdigest().upper()} *{path}\r\n"
                   for path, content in files.items()).encode()

tags["manifest-md5.txt"] = manifest("md5", first)
tags["manifest-sha1.txt"] = manifest("sha1", second)
tags["tagmanifest-md5.txt"] = manifest("md5", {p: tags[p] for p in ("bagit.txt", "bag-info.txt")})
for path, content in {**first, **second, **tags}.items():
    os.makedirs(os.path.dirname(os.path.join(base, path)) or base, exist_ok=True)
    open(os.path.join(base, path), "wb").write(content)
