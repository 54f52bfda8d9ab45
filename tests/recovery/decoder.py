#!/usr/bin/env python3
"""Heals bags with recovery data: an independent reader of docs/recovery-format.md, format version 1.

Written from that page alone, with nothing but Python's standard library, to prove that the page
suffices. It shares no code with Glassine. Slow: for small bags, and for the day when nothing else
is left.

    decoder.py BAG OUT [BAG OUT]...

Writes every damaged file that can be put together again below OUT, and prints one JSON line for
each bag: {"healed": [names], "beyond": [names], "unusable": [recovery files]}. A file with a line
in manifest-sha512.txt or tagmanifest-sha512.txt counts as healed only when its digest is that one.
"""

import hashlib
import json
import os
import struct
import sys

MAGIC = b"GlassRec"
HEADER = struct.Struct("<8sHHIIIQHHHHIIIIIIIIQQ")
TABLE, CHECKS, REPAIR = 1, 2, 3


# Check values.


def crc_table():
    table = []
    for value in range(256):
        for _ in range(8):
            value = (value >> 1) ^ (0xC96C5795D7870F42 if value & 1 else 0)
        table.append(value)
    return table


CRC = crc_table()


def check_value(data):
    crc = 0xFFFFFFFFFFFFFFFF
    for byte in data:
        crc = (crc >> 8) ^ CRC[(crc ^ byte) & 0xFF]
    return crc ^ 0xFFFFFFFFFFFFFFFF


assert check_value(b"123456789") == 0x995DC9BBDF1939FA


# The field and the code.

EXP, LOG = [0] * 255, [0] * 256
value = 1
for power in range(255):
    EXP[power], LOG[value] = value, power
    value = (value << 1) ^ (0x11D if value & 0x80 else 0)


def multiply(a, b):
    return EXP[(LOG[a] + LOG[b]) % 255] if a and b else 0


def divide(a, b):
    return EXP[(LOG[a] - LOG[b]) % 255] if a else 0


TIMES = {factor: bytes(multiply(factor, b) for b in range(256)) for factor in range(256)}


def element(k, i, r):
    """G(i, r)."""
    result = 1
    xi, xj = EXP[i % 255], EXP[(k + r) % 255]
    for t in range(k):
        if t != i:
            result = multiply(result, divide(xj ^ EXP[t], xi ^ EXP[t]))
    return result


assert [element(4, i, 0) for i in range(4)] == [0x40, 0x78, 0x36, 0x0F]
assert [element(4, i, 1) for i in range(4)] == [0xE7, 0xD2, 0x57, 0x63]


def add(a, b):
    return (int.from_bytes(a, "little") ^ int.from_bytes(b, "little")).to_bytes(len(a), "little")


def scaled(data, factor):
    return data.translate(TIMES[factor])


def solve(matrix, sums):
    """Gauss: matrix * result = sums, over the field, for vectors of bytes."""
    n = len(matrix)
    matrix, sums = [row[:] for row in matrix], sums[:]
    for column in range(n):
        pivot = next(row for row in range(column, n) if matrix[row][column])
        matrix[column], matrix[pivot] = matrix[pivot], matrix[column]
        sums[column], sums[pivot] = sums[pivot], sums[column]
        factor = divide(1, matrix[column][column])
        matrix[column] = [multiply(factor, x) for x in matrix[column]]
        sums[column] = scaled(sums[column], factor)
        for row in range(n):
            factor = matrix[row][column]
            if row != column and factor:
                pairs = zip(matrix[row], matrix[column])
                matrix[row] = [x ^ multiply(factor, y) for x, y in pairs]
                sums[row] = add(sums[row], scaled(sums[column], factor))
    return sums


# Packets.


class Header:
    def __init__(self, raw):
        (self.magic, self.version, self.kind, self.index, self.length, self.block_size,
         self.window_id, self.group, self.k, self.m, zero, self.number, self.windows, self.blocks,
         self.words, self.table_bytes, self.entries, self.percent, reserved, self.body_check,
         self.check) = HEADER.unpack(raw)
        self.identity = raw[20:72]
        self.good = (self.magic == MAGIC and self.check == check_value(raw[:80])
                     and zero == 0 and reserved == 0 and self.sensible())

    def bytes_of(self, kind):
        return self.table_bytes if kind == TABLE else 8 * self.blocks

    def packets(self, kind):
        if kind == REPAIR:
            return self.words * self.m
        return -(-self.bytes_of(kind) // self.block_size)

    def sensible(self):
        size = self.block_size
        if self.version != 1 or self.kind not in (TABLE, CHECKS, REPAIR) or self.group > 1:
            return False
        if size < 64 or size > 1048576 or size & (size - 1):
            return False
        if self.number >= self.windows or self.entries == 0:
            return False
        if self.blocks == 0:
            if self.words or self.k or self.m:
                return False
        elif not (0 < self.words <= self.blocks and self.m > 0 and self.k + self.m <= 255
                  and self.k == -(-self.blocks // self.words)):
            return False
        if self.index >= self.packets(self.kind):
            return False
        if self.kind == REPAIR:
            return self.length == size
        return self.length == min(size, self.bytes_of(self.kind) - self.index * size)


def packets_in(data):
    """Every packet whose header and body are good, as (header, body)."""
    at = data.find(MAGIC)
    while 0 <= at <= len(data) - HEADER.size:
        header = Header(data[at:at + HEADER.size])
        step = 1
        if header.good:
            step = HEADER.size
            body = data[at + step:at + step + header.length]
            if len(body) == header.length and check_value(body) == header.body_check:
                yield header, body
                step += header.length
        at = data.find(MAGIC, at + step)


def safe(name):
    return (b"\0" not in name and not name.startswith(b"recovery/")
            and all(part not in (b"", b".", b"..") for part in name.split(b"/")))


def read_table(data, header):
    """Entries (name, size, offset, blocks), or None."""
    entries, at, blocks, block_size = [], 0, 0, header.block_size
    while at < len(data):
        if len(data) - at < 22:
            return None
        length = struct.unpack_from("<H", data, at)[0]
        if len(data) - at < 22 + length:
            return None
        name = data[at + 2:at + 2 + length]
        size, offset, count = struct.unpack_from("<QQI", data, at + 2 + length)
        at += 22 + length
        if not safe(name) or size > 1 << 62 or (entries and entries[-1][0] >= name):
            return None
        if count == 0:
            if size or offset:
                return None
        elif offset % block_size or offset >= size or (count - 1) * block_size >= size - offset:
            return None
        if (entries and offset) or (at < len(data) and offset + count * block_size < size):
            return None
        entries.append((name, size, offset, count))
        blocks += count
    return entries if blocks == header.blocks and len(entries) == header.entries else None


class Window:
    """One recovery file, as far as it can be read."""

    def __init__(self, name, data):
        self.usable = False
        found = {}
        for header, body in packets_in(data):
            word = "payload" if header.group == 0 else "tags"
            if name != "%s-%04d.recovery" % (word, header.number + 1):
                continue
            if 8 * header.blocks > len(data):
                continue
            new = {"votes": 0, "header": header, TABLE: {}, CHECKS: {}, REPAIR: {}}
            parts = found.setdefault(header.identity, new)
            parts["votes"] += 1
            parts[header.kind].setdefault(header.index, body)
        for parts in sorted(found.values(), key=lambda p: -p["votes"]):
            if self.take(parts["header"], parts):
                self.usable = True
                return

    def take(self, header, parts):
        if len(parts[TABLE]) != header.packets(TABLE):
            return False
        table = b"".join(parts[TABLE][i] for i in sorted(parts[TABLE]))
        self.entries = read_table(table, header)
        if self.entries is None:
            return False
        checks = b"".join(parts[CHECKS][i] for i in sorted(parts[CHECKS]))
        if len(checks) == 8 * header.blocks and check_value(table + checks) != header.window_id:
            return False
        self.header = header
        self.repair = parts[REPAIR]
        self.checks = {}
        for index, body in parts[CHECKS].items():
            first = index * header.block_size // 8
            for i in range(len(body) // 8):
                self.checks[first + i] = struct.unpack_from("<Q", body, 8 * i)[0]
        return True


# Healing.


def content(path):
    try:
        with open(path, "rb") as file:
            return file.read()
    except OSError:
        return None


def digests(bag):
    """What the SHA-512 manifests say; line ends and % in names are coded (RFC 8493 2.1.3)."""
    result = {}
    for manifest in (b"manifest-sha512.txt", b"tagmanifest-sha512.txt"):
        for line in (content(os.path.join(bag, manifest)) or b"").splitlines():
            digest, _, name = line.partition(b"  ")
            for coded, plain in ((b"%0A", b"\n"), (b"%0D", b"\r"), (b"%25", b"%")):
                name = name.replace(coded, plain)
            result[name] = digest.decode("ascii", "replace").lower()
    return result


def rebuild(window, files, proven):
    """The right bytes of each block, None where they are lost for good; and which were lost."""
    header = window.header
    blocks, lost = [], set()
    for name, size, offset, count in window.entries:
        data = files.get(name)
        for i in range(count):
            start = offset + i * header.block_size
            right_length = min(header.block_size, size - start)
            block = data[start:start + right_length] if data is not None else b""
            number = len(blocks)
            if len(block) != right_length:
                lost.add(number)
            elif number not in window.checks:
                if name not in proven:
                    lost.add(number)
            elif check_value(block) != window.checks[number]:
                lost.add(number)
            blocks.append(None if number in lost else block.ljust(header.block_size, b"\0"))
    damaged = set(lost)
    for word in sorted({number % header.words for number in lost}):
        members = range(word, header.blocks, header.words)
        missing = [number for number in members if number in lost]
        rows = [r for r in range(header.m) if r * header.words + word in window.repair]
        rows = rows[:len(missing)]
        if len(rows) < len(missing):
            continue
        sums = []
        for r in rows:
            total = window.repair[r * header.words + word]
            for number in members:
                if number not in lost:
                    factor = element(header.k, number // header.words, r)
                    total = add(total, scaled(blocks[number], factor))
            sums.append(total)
        matrix = [[element(header.k, number // header.words, r) for number in missing]
                  for r in rows]
        for number, block in zip(missing, solve(matrix, sums)):
            blocks[number] = block
    return blocks, damaged


def read_windows(bag):
    folder = os.path.join(bag, b"recovery")
    windows, unusable = [], []
    for name in sorted(os.listdir(folder)) if os.path.isdir(folder) else []:
        window = Window(os.fsdecode(name), content(os.path.join(folder, name)) or b"")
        if window.usable:
            windows.append(window)
        else:
            unusable.append("recovery/" + os.fsdecode(name))
    windows.sort(key=lambda w: (w.header.group, w.header.number))
    return windows, unusable


def put_together(parts, size):
    """The file, or None when a part of it is lost."""
    whole = b""
    for offset, blocks in parts:
        if offset != len(whole) or None in blocks:
            return None
        whole += b"".join(blocks)
    return whole[:size] if len(whole) >= size else None


def heal(bag, out):
    bag = os.fsencode(bag)
    windows, unusable = read_windows(bag)
    files, sizes, parts = {}, {}, {}
    for window in windows:
        for name, size, offset, count in window.entries:
            if name not in files:
                files[name] = content(os.path.join(bag, name))
                sizes[name] = size
    right = digests(bag)
    proven = {name for name, data in files.items()
              if data is not None and right.get(name) == hashlib.sha512(data).hexdigest()}
    damaged = {name for name, data in files.items() if data is None or len(data) != sizes[name]}
    for window in windows:
        blocks, lost = rebuild(window, files, proven)
        number = 0
        for name, size, offset, count in window.entries:
            if any(b in lost for b in range(number, number + count)):
                damaged.add(name)
            parts.setdefault(name, []).append((offset, blocks[number:number + count]))
            number += count

    healed, beyond = [], []
    for name in sorted(damaged):
        whole = put_together(parts[name], sizes[name])
        if whole is not None and name in right and hashlib.sha512(whole).hexdigest() != right[name]:
            whole = None
        (beyond if whole is None else healed).append(os.fsdecode(name))
        if whole is not None:
            path = os.path.join(os.fsencode(out), name)
            os.makedirs(os.path.dirname(path), exist_ok=True)
            with open(path, "wb") as file:
                file.write(whole)
    return {"healed": healed, "beyond": beyond, "unusable": unusable}


if __name__ == "__main__":
    arguments = sys.argv[1:]
    if not arguments or len(arguments) % 2:
        sys.exit(__doc__)
    for at in range(0, len(arguments), 2):
        print(json.dumps(heal(arguments[at], arguments[at + 1])))
