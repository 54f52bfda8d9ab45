"""Packs bags with Python's tarfile and zipfile, in order and against the rules (draft 0.97 section 4, PKWARE
APPNOTE, POSIX pax): python3 write_archives.py FOLDER"""
import gzip, hashlib, io, os, sys, tarfile, zipfile

out = sys.argv[1]
WHEN = 1_700_000_000


def sha(content):
    return hashlib.sha512(content).hexdigest()


def bag(payload=None, algorithms=("sha512",), more=None):
    """The files of a 1.0 bag by name, written from the standard's text."""
    payload = payload or {"data/one.txt": b"one", "data/two/two.txt": b"two" * 1000}
    tags = {"bagit.txt": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
            "bag-info.txt": b"Payload-Oxum: %d.%d\n" % (sum(map(len, payload.values())), len(payload))}
    tags.update(more or {})
    for algorithm in algorithms:
        lines = [f"{hashlib.new(algorithm, c).hexdigest()}  {p}\n" for p, c in payload.items()]
        tags[f"manifest-{algorithm}.txt"] = "".join(lines).encode()
    tags["tagmanifest-sha512.txt"] = "".join(f"{sha(c)}  {p}\n" for p, c in tags.items()).encode()
    return {**payload, **tags}


def tar(name, files, base="bag/", mode="w", format=tarfile.PAX_FORMAT, extra=()):
    os.makedirs(os.path.dirname(os.path.join(out, name)), exist_ok=True)
    with tarfile.open(os.path.join(out, name), mode, format=format) as archive:
        for path, content in files.items():
            info = tarfile.TarInfo(base + path)
            info.size, info.mtime = len(content), WHEN
            archive.addfile(info, io.BytesIO(content))
        for info in extra:
            archive.addfile(info, io.BytesIO(b"x" * info.size))


def member(name, type=tarfile.REGTYPE, link="", size=0):
    info = tarfile.TarInfo(name)
    info.type, info.linkname, info.size, info.mtime = type, link, size, WHEN
    return info


def zipped(name, files, base="bag/", method=zipfile.ZIP_STORED, extra=(), stream=False, zip64=False):
    os.makedirs(os.path.dirname(os.path.join(out, name)), exist_ok=True)
    with open(os.path.join(out, name), "wb") as target:
        class Unseekable(io.RawIOBase):  # then zipfile writes data descriptors
            def writable(self): return True
            def write(self, data): return target.write(data)
        with zipfile.ZipFile(Unseekable() if stream else target, "w", method) as archive:
            for path, content in list(files.items()) + list(extra):
                info = zipfile.ZipInfo(path if (path, content) in extra else base + path, (2023, 11, 14, 22, 13, 20))
                info.compress_type = method
                with archive.open(info, "w", force_zip64=zip64) as member:
                    member.write(content)


def changed(files, path, content):
    return {**files, path: content}


good = bag()
names = bag({"data/Núñez.jpg": b"composed", "data/Nún\u0303ez.raw": b"decomposed",
             "data/" + "long" * 60 + "/" + "name" * 50 + ".txt": b"long", "data/%25\n": b"escaped"})
for path in [p for p in names if p.startswith("manifest")]:  # RFC 8493 section 2.1.3: only %, LF, CR
    names[path] = names[path].replace(b"data/%25\n\n", b"data/%2525%0A\n")
names["tagmanifest-sha512.txt"] = "".join(
    f"{sha(c)}  {p}\n" for p, c in names.items() if not p.startswith(("data/", "tagm"))).encode()
tags_first = dict(sorted(good.items(), key=lambda item: item[0].startswith("data/")))
both = bag(algorithms=("md5", "sha512"))
split = {"manifest-md5.txt": both["manifest-md5.txt"], **{p: c for p, c in both.items() if p != "manifest-md5.txt"}}

# In order.
for form, format in (("ustar", tarfile.USTAR_FORMAT), ("gnu", tarfile.GNU_FORMAT), ("pax", tarfile.PAX_FORMAT)):
    tar(f"{form}/bag.tar", good, format=format)
for ending, mode in (("tar.gz", "w:gz"), ("tgz", "w:gz"), ("tar.bz2", "w:bz2"), ("tar.xz", "w:xz")):
    tar(f"{ending}/bag.{ending}", good, mode=mode)
zipped("stored/bag.zip", good)
zipped("deflated/bag.zip", good, method=zipfile.ZIP_DEFLATED)
zipped("stream-stored/bag.zip", good, stream=True)
zipped("stream-deflated/bag.zip", good, method=zipfile.ZIP_DEFLATED, stream=True)
zipped("zip64/bag.zip", good, zip64=True)
tar("names/bag.tar", names)
tar("names-gnu/bag.tar", names, format=tarfile.GNU_FORMAT)
tar("names-gz/bag.tar.gz", names, mode="w:gz")
zipped("names-zip/bag.zip", names)
zipped("names-deflated/bag.zip", names, method=zipfile.ZIP_DEFLATED)
tar("dotted/bag.tar", good, base="./bag/")
tar("upper/BAG.TAR", good, base="BAG/")
tar("tags-first/bag.tar.gz", tags_first, mode="w:gz")
tar("tags-last/bag.tar.gz", {p: c for p, c in reversed(tags_first.items())}, mode="w:gz")
tar("tags-split/bag.tar.gz", split, mode="w:gz")
tar("folders/bag.tar", good, extra=[member("bag/", tarfile.DIRTYPE), member("bag/data", tarfile.DIRTYPE),
                                    member("bag/data/two/", tarfile.DIRTYPE), member("bag/data/", tarfile.DIRTYPE)])
inner = bag({"data/inner.tar.gz": gzip.compress(b"inner", mtime=0), "data/inner.zip": b"no zip at all"})
tar("nested/bag.tar", inner)
twins = bag({"data/one.txt": b"twin", "data/two.txt": b"twin"})
link = [member("bag/data/two.txt", tarfile.LNKTYPE, "bag/data/one.txt")]
tar("hard-link/bag.tar", {p: c for p, c in twins.items() if p != "data/two.txt"}, extra=link)
tar("hard-link-gz/bag.tar.gz", {p: c for p, c in twins.items() if p != "data/two.txt"}, extra=link, mode="w:gz")
tar("empty-file/bag.tar", bag({"data/empty": b"", "data/full": b"full"}))

# Discouraged.
tar("other-name/renamed.tar", good)
zipped("packers-own/bag.zip", good, extra=[("__MACOSX/bag/._one.txt", b"x")])
weak = bag(algorithms=("md5",))
tar("weak/bag.tar.gz", weak, mode="w:gz")

# Against the rules.
tar("no-folder/bag.tar", good, base="")
zipped("no-folder-zip/bag.zip", good, base="")
tar("two-bags/bag.tar", good, extra=[member("other/bagit.txt", size=3)])
tar("beside/bag.tar.gz", good, extra=[member("readme.txt", size=3)], mode="w:gz")
tar("packed-data/bag.tar", {**{p: c for p, c in good.items() if not p.startswith("data/")},
                            "data.tar.gz": gzip.compress(b"data", mtime=0)})
tar("twice/bag.tar", good, extra=[member("bag/data/one.txt", size=3)])
tar("twice-gz/bag.tar.gz", good, extra=[member("./bag//data/one.txt", size=3)], mode="w:gz")
zipped("twice-zip/bag.zip", good, extra=[("bag/data/one.txt", b"one")])
tar("symlink/bag.tar", {p: c for p, c in good.items() if p != "data/one.txt"},
    extra=[member("bag/data/one.txt", tarfile.SYMTYPE, "/etc/hostname")])
tar("symlink-gz/bag.tar.gz", {p: c for p, c in good.items() if p != "data/one.txt"},
    extra=[member("bag/data/one.txt", tarfile.SYMTYPE, "two/two.txt")], mode="w:gz")
for target in ("/etc/hostname", "../outside", "bag/data/later.txt", "other/file"):
    tar(f"link-out-{target.replace('/', '-')}/bag.tar", {p: c for p, c in good.items() if p != "data/one.txt"},
        extra=[member("bag/data/one.txt", tarfile.LNKTYPE, target)])
tar("link-to-itself/bag.tar", {p: c for p, c in good.items() if p != "data/one.txt"},
    extra=[member("bag/data/one.txt", tarfile.LNKTYPE, "bag/data/one.txt")])
for word, type in (("fifo", tarfile.FIFOTYPE), ("device", tarfile.CHRTYPE), ("block", tarfile.BLKTYPE)):
    tar(f"{word}/bag.tar", good, extra=[member(f"bag/data/{word}", type)])
for number, path in enumerate(("/etc/evil", "../evil", "bag/../../evil", "bag/data/../../../evil", "~/evil",
                               "C:/evil", "\\\\server\\share\\evil", "bag\\..\\..\\evil")):
    tar(f"unsafe-{number}/bag.tar", good, extra=[member(path, size=4)])
    tar(f"unsafe-gz-{number}/bag.tar.gz", good, extra=[member(path, size=4)], mode="w:gz")
    zipped(f"unsafe-zip-{number}/bag.zip", good, extra=[(path, b"evil")])
tar("file-as-folder/bag.tar", good, extra=[member("bag/data/one.txt/below", size=3)])
tar("folder-as-file/bag.tar", good, extra=[member("bag/data/two", size=3)])
for form, write in (("tar", tar), ("zip", zipped)):
    write(f"altered-{form}/bag.{form}", changed(good, "data/one.txt", b"0ne"))
    write(f"missing-{form}/bag.{form}", {p: c for p, c in good.items() if p != "data/one.txt"})
    write(f"unlisted-{form}/bag.{form}", {**good, "data/more.txt": b"more"})
    write(f"tag-altered-{form}/bag.{form}", changed(good, "bag-info.txt", b"Payload-Oxum: 3003.2 \n"))
tar("altered-gz/bag.tar.gz", changed(good, "data/one.txt", b"0ne"), mode="w:gz")
zipped("altered-deflated/bag.zip", changed(good, "data/two/two.txt", b"tw0" * 1000), method=zipfile.ZIP_DEFLATED)
tar("moved/bag.tar.gz", {("data/1.txt" if p == "data/one.txt" else p): c for p, c in good.items()}, mode="w:gz")
tar("no-bag/things.tar", {"a": b"a", "b": b"b"}, base="things/")
tar("flood/bag.tar", good, extra=[member(f"bag/data/{i}") for i in range(300)])
tar("flood-gz/bag.tar.gz", good, extra=[member(f"bag/data/{i}") for i in range(300)], mode="w:gz")

# Decompression bombs: zeros, declared and not.
zeros = b"\0" * (8 << 20)
tar("bomb/bag.tar.gz", {**good, "data/zeros": zeros}, mode="w:gz")
tar("bomb-first/bag.tar.gz", {"bag-info.txt": good["bag-info.txt"], **good, "data/zeros": zeros}, mode="w:gz")
zipped("bomb-zip/bag.zip", {**good, "data/zeros": zeros}, method=zipfile.ZIP_DEFLATED)
tar("large-tags/bag.tar.gz", {**good, "fetch.txt": b"https://example.org/x 1 data/x\n" * 100_000}, mode="w:gz")

# Cut short, and spoilt in the middle.
def raw(name):
    with open(os.path.join(out, name), "rb") as file:
        return bytearray(file.read())

def put(name, content):
    os.makedirs(os.path.dirname(os.path.join(out, name)), exist_ok=True)
    with open(os.path.join(out, name), "wb") as file:
        file.write(content)

for source in ("pax/bag.tar", "tar.gz/bag.tar.gz", "stored/bag.zip", "deflated/bag.zip"):
    whole = raw(source)
    word, name = source.split("/")
    put(f"cut-half-{word}/{name}", whole[:len(whole) // 2])
    put(f"cut-one-{word}/{name}", whole[:600 if word == "pax" else 40])
    put(f"empty-{word}/{name}", b"")
    put(f"noise-{word}/{name}", bytes((7 * i * i + 3) % 251 for i in range(3000)))
spoilt = raw("tar.gz/bag.tar.gz")
spoilt[len(spoilt) // 2] ^= 0xFF
put("spoilt-gz/bag.tar.gz", spoilt)
spoilt = raw("deflated/bag.zip")
spoilt[spoilt.index(b"two.txt") + 12] ^= 0x55
put("spoilt-zip/bag.zip", spoilt)
locked = raw("stored/bag.zip")  # APPNOTE 4.4.4: bit 0 of the flags says encrypted
for signature, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
    place = locked.find(signature)
    while place >= 0:
        locked[place + at] |= 1
        place = locked.find(signature, place + 4)
put("encrypted/bag.zip", locked)
renamed = raw("stored/bag.zip")  # the local header says one.txt, the directory at the end 1ne.txt
renamed[renamed.rindex(b"data/one.txt") + 5] = ord("1")
put("two-names/bag.zip", renamed)
