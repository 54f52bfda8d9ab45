"""What the documents point to is there: links between pages, and files of the tree they name."""

import re

import tree

LINK = re.compile(r"\]\(([^)#\s]+)(?:#[^)]*)?\)")
NAMED = re.compile(r"(?<![\w/.-])((?:src|include|tests|docs|demo|fixtures|bench|\.ci)/[\w./-]*\w)")

PATTERN = re.compile(r"NAME|/x(_|$)")  # stands for any name

broken = []
for path in tree.files(".", suffixes={".md"}):
    for place, line in tree.lines(path):
        for target in LINK.findall(line):
            if not re.match(r"[a-z]+:", target) and not (path.parent / target).exists():
                broken.append(f"{place}: leads nowhere: {target}")
        for target in NAMED.findall(LINK.sub("]", line)):
            if not PATTERN.search(target) and not (tree.ROOT / target).exists():
                broken.append(f"{place}: is not in the tree: {target}")
tree.end(broken)
