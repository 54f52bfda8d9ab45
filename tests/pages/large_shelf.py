"""A shelf of 500 invented jobs on 12 volumes, three copies each: tag files and event logs as docs/shelf.md has them,
without pictures. `glassine shelf scan` takes it in."""

import hashlib
import json
import pathlib
import uuid

FIRST = ("Maren", "Tomas", "Ingrid", "Søren", "Ayumi", "Zoë", "Kwame", "Léa", "Oskar", "Priya")
LAST = ("Holt", "Brandvik", "Lindqvist", "Okoro", "Straße", "Ferreira", "Nakagawa", "Ødegård", "Castellane")
WHAT = ("harbour gala", "wedding", "portraits in the old mill", "regatta", "company jubilee", "school choir")
PLACES = ("cupboard B", "cupboard C", "bank, box 12", "office server")


def identity(number):
    kind = ("drive", "drive", "offsite", "server")[number % 4]
    return {"glassine_volume": 1, "id": str(uuid.UUID(int=0xA0000000 + number, version=4)), "kind": kind,
            "label": f"SHELF-{number:02}", "place": PLACES[number % 4], "model": "Quietspin 4",
            "serial": f"Q4-{1800 + number}", "in_service": f"{2019 + number % 6}-03-14", "capacity": 8001563222016,
            "written": "2026-01-01T00:00:00Z"}


def write_bag(folder, clients, what, day, number):
    folder.mkdir(parents=True)
    tags = {
        "bagit.txt": "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
        "bag-info.txt": f"External-Description: {what}\nExternal-Identifier: K-{number}\n" + "".join(
            f"Client-Name: {client}\n" for client in clients) + f"Shoot-Date: {day}\nBagging-Date: {day}\n"
            f"Payload-Oxum: {number + 1}000.1\n",
        "manifest-sha512.txt": f"{hashlib.sha512(str(number).encode()).hexdigest()}  data/web/a.jpg\n",
    }
    tags["tagmanifest-sha512.txt"] = "".join(
        f"{hashlib.sha512(text.encode()).hexdigest()}  {name}\n" for name, text in sorted(tags.items()))
    for name, text in tags.items():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "data").mkdir()
    return hashlib.sha512(tags["tagmanifest-sha512.txt"].encode()).hexdigest()


def event(kind, when, outcome, name, seal, volume):
    return json.dumps({"id": {"type": "UUID", "value": str(uuid.uuid5(uuid.NAMESPACE_OID, f"{kind}{name}{volume}{when}"))},
                       "type": kind, "time": when, "outcome": outcome,
                       "objects": [{"type": "bag name", "value": name}, {"type": "bag seal", "value": seal},
                                   {"type": "volume id", "value": volume}, {"type": "path", "value": name}]}) + "\n"


def make(folder, jobs=500, volumes=12):
    """Volumes below `folder`; the newest copies were proven in 2026, some longer ago, some never, a few are damaged."""
    folder = pathlib.Path(folder)
    identities = [identity(number) for number in range(volumes)]
    logs = [[] for _ in identities]
    for number in range(jobs):
        day = f"{2016 + number * 10 // jobs}-{number % 12 + 1:02}-{number % 28 + 1:02}"
        clients = [f"{FIRST[number % 10]} {LAST[number % 9]}", f"{FIRST[number // 10 % 10]} {LAST[number // 7 % 9]}"]
        name = f"{day}_job-{number:03}_{WHAT[number % 6].replace(' ', '-')}"
        for copy in range(3):
            at = (number + copy) % volumes
            seal = write_bag(folder / f"v{at:02}" / name, clients, WHAT[number % 6], day, number)
            logs[at].append(event("ingestion", f"{day}T10:00:00Z", "success", name, seal, identities[at]["id"]))
            if copy < 2 or number % 3:
                year = 2024 if number % 7 == copy else 2026
                outcome = "failure" if number % 83 == copy + 1 else "success"
                logs[at].append(event("fixity check", f"{year}-10-{number % 28 + 1:02}T10:00:00Z", outcome, name, seal,
                                      identities[at]["id"]))
    for at, known in enumerate(identities):
        root = folder / f"v{at:02}"
        (root / "glassine-volume.json").write_text(json.dumps(known, indent=2) + "\n", encoding="utf-8")
        (root / "glassine-events.jsonl").write_text("".join(logs[at]), encoding="utf-8")
