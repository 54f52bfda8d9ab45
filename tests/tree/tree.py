"""What the checks of the source tree share: which files there are, and how a check ends.

Each check is a program of its own that ctest runs (tests/tree/CMakeLists.txt); it prints every
line that breaks its rule and exits with 1 if there was any.
"""

import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
CODE = {".cpp", ".h"}
LEFT_OUT = {".git", ".cache", "__pycache__"}


def files(*folders, suffixes=None):
    """Files below the given folders of the tree, without build folders and hidden leftovers."""
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*")):
            parts = path.relative_to(ROOT).parts
            if LEFT_OUT & set(parts) or parts[0] == "build" or parts[0].startswith("build-"):
                continue
            if path.is_file() and (suffixes is None or path.suffix in suffixes):
                yield path


def rooms():
    """The rooms from top to bottom, as the table in docs/architecture.md lists them."""
    page = (ROOT / "docs/architecture.md").read_text(encoding="utf-8")
    table = page[page.index("| room |"):]
    table = table[:table.index("\n\n")]
    found = re.findall(r"^\| `([a-z]+)` \|", table, re.MULTILINE)
    present = {path.parent.name for path in (ROOT / "src").glob("*/*.cpp")}
    if set(found) != present:
        end([f"docs/architecture.md lists {found}, src/ holds {sorted(present)}"])
    return found


def room_of(path):
    """The room a file of src/ or include/ belongs to, or None."""
    parts = path.relative_to(ROOT).parts
    if parts[0] == "src" and len(parts) > 2:
        return parts[1]
    if parts[:2] == ("include", "glassine") and len(parts) > 3:
        return parts[2]
    return None


def lines(path):
    """(place, text) for every line: the place is what compilers print, file:line."""
    name = path.relative_to(ROOT)
    text = path.read_text(encoding="utf-8", errors="replace")
    for number, line in enumerate(text.splitlines(), 1):
        yield f"{name}:{number}", line


def without_comment(line):
    """The line without what follows // outside a string. Good enough for one-line rules."""
    return re.sub(r'("(?:[^"\\]|\\.)*")|//.*', lambda m: m.group(1) or "", line)


def without_strings(line):
    return re.sub(r'"(?:[^"\\]|\\.)*"', '""', without_comment(line))


def end(broken):
    for line in broken:
        print(line)
    if broken:
        sys.exit(1)
    sys.exit(0)
