"""Only `io` touches the operating system; only `cli` prints. Libraries are given bytes, not names.

Allowed elsewhere: `cli` asks about the terminal and the environment and handles signals; SQLite
opens the register itself (src/shelf/sqlite.cpp), because its locking needs the file.
"""

import re

import tree

HEADERS = re.compile(r"#include <(fcntl\.h|unistd\.h|dirent\.h|fstream|sys/[a-z_]+\.h|linux/.*)>")
CALLS = re.compile(
    r"(?<![\w>])::(open|openat|creat|read|pread|write|pwrite|close|f?stat|lstat|fstatat|access|"
    r"unlink|rename|renameat2?|mkdir|rmdir|link|symlink|truncate|fsync|fdatasync|mmap|opendir|"
    r"statvfs|mkstemp|mkdtemp|chmod|chown|utimensat)\s*\("
    r"|\bstd::(fopen|freopen|tmpfile|remove\(\s*[\"(]|rename|system|[io]?fstream|filebuf)\b"
    r"|(?<![\w:.>])(fopen|freopen|fdopen|opendir|mkstemp|mkdtemp|popen|system)\s*\("
    r"|std::filesystem::(?!path\b|hash_value\b)\w+"
    r"|namespace\s+\w+\s*=\s*std::filesystem|using\s+namespace\s+std::filesystem")
BY_NAME = re.compile(
    r"\b(TIFFOpen(?:Ext|W)?|TIFFFdOpen|archive_\w+_open_filename\w*|archive_\w+_open_fd|"
    r"toml::parse_file|png_init_io|jpeg_stdio_(?:src|dest)|heif_context_\w+_(?:from|to)_file|"
    r"sqlite3_open\w*|cmsOpenProfileFromFile|SSL_CTX_load\w+)\s*\(|\.open_file\(.*c_str")
PRINTS = re.compile(
    r"std::c(out|err|log)\b|(?<![\w:.>])(std::)?(v?f?printf|f?puts|putchar|perror)\s*\(|fmt::print\b")
ENVIRONMENT = re.compile(r"\b(secure_)?getenv\s*\(|\bsetenv\s*\(|\bputenv\s*\(|::(isatty|ioctl|signal|sigaction)\(")

broken = []
for path in tree.files("src", "include", suffixes=tree.CODE):
    room = tree.room_of(path)
    register = path.relative_to(tree.ROOT).as_posix() == "src/shelf/sqlite.cpp"
    rules = []
    if room != "io":
        rules.append((CALLS, "touches files outside io"))
        rules.append((BY_NAME, "lets a library open a file by name"))
    if room not in ("io", "cli"):
        rules.append((HEADERS, "includes a header of the operating system"))
        rules.append((ENVIRONMENT, "asks the terminal or the environment"))
    if room != "cli":
        rules.append((PRINTS, "prints"))
    for place, line in tree.lines(path):
        text = tree.without_strings(line)
        for rule, what in rules:
            match = rule.search(text)
            if match and not (register and match.group(0).startswith("sqlite3_open")):
                broken.append(f"{place}: {room} {what}: {match.group(0)}")
tree.end(broken)
