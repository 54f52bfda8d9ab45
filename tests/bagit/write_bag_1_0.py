"""Writes a BagIt 1.0 bag as RFC 8493 describes it: python3 write_bag_1_0.py FOLDER"""
import hashlib, os, sys

base = sys.argv[1]
payload = {"data/originals/AX1_0001.raw": b"raw " * 5000, "data/print/Núñez.jpg": b"print",
           "data/100% kept\r\nlist.txt": b"odd name", "data/.keep": b""}
tags = {"bagit.txt": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
        "bag-info.txt": "Source-Organization: Example Studio\nContact-Name: Mira Oslander\n"
        "External-Description: Sailing gala,\n  second day\nPayload-Oxum: {}.{}\n".format(
            sum(len(b) for b in payload.values()), len(payload)).encode(),
        "notes/plan.xml": b"<plan/>"}

def manifest(algorithm, files):
    quote = lambda path: path.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")
    return "".join(f"{hashlib.new(algorithm, content).hexdigest()} {quote(path)}\n"
                   for path, content in files.items()).encode()

tags.update({f"manifest-{a}.txt": manifest(a, payload) for a in ("sha256", "sha512")})
tags.update({f"tagmanifest-{a}.txt": manifest(a, {p: c for p, c in tags.items()
             if not p.startswith("tagmanifest-")}) for a in ("sha256", "sha512")})
for path, content in {**payload, **tags}.items():
    os.makedirs(os.path.dirname(os.path.join(base, path)) or base, exist_ok=True)
    open(os.path.join(base, path), "wb").write(content)
