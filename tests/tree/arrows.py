"""Arrows only point down: a room includes itself and rooms below it, others only by public headers."""

import re

import tree

rooms = tree.rooms()
height = {room: len(rooms) - at for at, room in enumerate(rooms)}
include = re.compile(r'#include "(glassine/)?([a-z_]+)/[^"]+"')
broken = []
for path in tree.files("src", "include", suffixes=tree.CODE):
    room = tree.room_of(path)
    public = path.relative_to(tree.ROOT).parts[0] == "include"
    if room is None:
        broken.append(f"{path.relative_to(tree.ROOT)}: belongs to no room")
        continue
    for place, line in tree.lines(path):
        match = include.match(line)
        if not match:
            if public and line.startswith('#include "'):
                broken.append(f"{place}: a public header includes a private one: {line}")
            continue
        other = match.group(2)
        if other not in height:
            broken.append(f"{place}: no room: {line}")
        elif height[other] > height[room]:
            broken.append(f"{place}: {room} stands below {other}: {line}")
        elif not match.group(1) and (other != room or public):
            broken.append(f"{place}: a private header of {other}: {line}")
tree.end(broken)
