"""What has no place in the tree: paths of one machine, work put off, files that nobody can survey."""

import re

import tree

# Joined here so that this file does not find itself.
PUT_OFF = ["TO" + "DO", "FIX" + "ME", "X" + "XX", "HA" + "CK", "for " + "now", "place" + "holder(?!=)",
           "not yet " + "implemented", "lorem " + "ipsum"]
PATHS = ["/wo" + "rk/", "/ho" + "me/", "/ro" + "ot/", "/Us" + "ers/", r"\.py" + "env"]
WORDS = re.compile(r"\b(" + "|".join(PUT_OFF) + r")\b|(?<![\w.$}~*])(" + "|".join(PATHS) + r")\w")
TEXT = tree.CODE | {".md", ".txt", ".py", ".sh", ".toml", ".cmake", ".html", ".css", ".csv", ""}
LONGEST = 400  # lines of a source file; see DEVELOPERS.md

broken = []
for path in tree.files(".", suffixes=TEXT):
    name = path.relative_to(tree.ROOT).as_posix()
    if name.startswith("fixtures/fuzz/") or name == "docs/LICENSE":
        continue
    count = 0
    for place, line in tree.lines(path):
        count += 1
        match = WORDS.search(line)
        if match:
            broken.append(f"{place}: {match.group(0)}")
        if line.rstrip(" \t") != line:
            broken.append(f"{place}: blanks at the end of the line")
    if path.suffix in tree.CODE and name.split("/")[0] in ("src", "include") and count > LONGEST:
        broken.append(f"{name}: {count} lines; split what has two reasons to change")
tree.end(broken)
