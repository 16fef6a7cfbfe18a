"""Holds the tree to its rules: which folder may include which, what the engine must not touch, file length, links.

usage: check.py TREE

Prints one line a finding and exits 1 when there is any.
"""

import re
import sys
import tomllib
from pathlib import Path

# What each folder of src/ may use directly; what those use, it may use too.
USES = {
    "quantity": [],
    "cell": ["quantity"],
    "wiring": ["cell"],
    "day": ["wiring"],
    "forecast": ["day"],
    "fit": ["forecast"],
    "decode": ["quantity"],
    "catalogue": ["decode", "day"],
    "journal": ["decode"],
    "health": ["quantity"],
    "store": ["journal"],
    "kit": ["catalogue", "day"],
    "odds": ["forecast"],
    "choose": ["odds"],
    "track": ["odds"],
    "learn": ["track", "fit"],
    "recharge": ["forecast"],
    "drawing": [],
    "paper": ["drawing"],
    "sheet": ["drawing"],
    "travel": ["kit"],
    "expendables": ["forecast", "kit"],
    "remedies": ["odds"],
    "compare": ["odds"],
    "findings": ["forecast", "kit"],
    "meters": ["odds", "kit"],
    "diagram": ["quantity"],
    "app": ["learn", "track", "recharge", "journal", "health", "expendables", "compare", "travel", "choose", "meters", "findings", "diagram", "remedies", "sheet", "drawing", "odds", "fit", "forecast", "kit", "catalogue"],
    "cli": ["app", "paper", "store"],
    "door": ["app"],
    "wasm": ["door"],
}

# The engine computes and does nothing else: same input, same bytes, natively and in WebAssembly.
ENGINE = ["track", "recharge", "quantity", "cell", "wiring", "day", "forecast", "odds", "remedies", "compare", "choose", "findings", "diagram", "meters", "travel", "expendables", "journal", "health"]

# Headers without files, clocks, threads, locales, random numbers, environment. The unordered containers are left out on
# purpose: their order differs between standard libraries.
PURE_HEADERS = set(
    "algorithm array bit bitset charconv cmath compare concepts cstddef cstdint cstring deque exception functional "
    "initializer_list iterator limits list map memory new numbers numeric optional queue ranges set span stack "
    "stdexcept string string_view tuple type_traits utility variant vector version".split()
)

# The C library's versions differ in the last bit between platforms; tillwrap::maths has its own.
INEXACT = (
    "exp exp2 expm1 log log2 log10 log1p pow cbrt hypot sin cos tan asin acos atan atan2 sinh cosh tanh asinh acosh "
    "atanh erf erfc tgamma lgamma fma"
).split()
INEXACT_CALL = re.compile(r"(?P<before>(?:[\w:]|\.|->)*?)\b(?P<name>" + "|".join(INEXACT) + r")[fl]?\s*\(")
MATHS = "quantity/maths.hpp"

IMPURE = {
    r"\bthread_local\b": "thread_local",
    r"\bvolatile\b": "volatile",
    r"\bgetenv\b": "the environment",
    r"\b(?:s?rand|random_device|mt19937(?:_64)?)\b": "random numbers",
    r"\b(?:fopen|printf|fprintf|sprintf|snprintf|scanf|sscanf)\b": "C input and output",
    r"\b(?:cout|cerr|clog|cin|ifstream|ofstream)\b": "streams",
    r"\b(?:setlocale|localeconv|stod|stof|strtod|atof)\b": "the locale",
    r"\b(?:system_clock|steady_clock|high_resolution_clock|gettimeofday|clock_gettime|localtime|gmtime|mktime)\b":
        "a clock",
    r"(?:\bstd::|(?<![\w:])::)(?:time|clock|system|exit|abort)\s*\(": "the process or its clock",
}

CODE = {".cpp", ".hpp", ".h", ".py", ".mjs", ".js", ".ts", ".svelte", ".css", ".sh", ".cmake"}
MOST_LINES = 600
NOT_OURS = {".git", ".cache", "build", "out", "node_modules", "__pycache__"}


def reachable(folder):
    """Folders that `folder` may include, itself among them."""
    found = {folder}
    for used in USES[folder]:
        found |= reachable(used)
    return found


def without_comments(text):
    """C++ text with comments and the insides of literals blanked, line numbers kept."""
    pattern = re.compile(
        r'//[^\n]*|/\*.*?\*/|R"(?P<mark>[^(\s]*)\(.*?\)(?P=mark)"|"(?:\\.|[^"\\\n])*"|(?<![0-9a-fA-F])\'(?:\\.|[^\'\\\n])+\'',
        re.DOTALL,
    )

    def blank(match):
        kept = "".join("\n" if c == "\n" else " " for c in match.group())
        return '""' + kept[2:] if match.group()[0] in "\"'R" and len(kept) >= 2 else kept

    return pattern.sub(blank, text)


def line_of(text, offset):
    return text.count("\n", 0, offset) + 1


def check_includes(where, folder, text):
    """Include arrows of one source file, and the headers an engine file may take."""
    for match in re.finditer(r'^[ \t]*#[ \t]*include[ \t]*(["<])([^">]+)[">]', text, re.MULTILINE):
        quote, header = match.groups()
        place = f"{where}:{line_of(text, match.start())}"
        target = header.split("/")[0]
        if quote == '"' and "/" in header and target in USES:
            if target not in reachable(folder):
                yield f"{place}: {folder} may not include {header}; it may use {', '.join(sorted(reachable(folder)))}"
        elif folder in ENGINE:
            if quote == '"':
                yield f'{place}: write "{header}" as "folder/file.hpp", so that the arrow can be checked'
            elif header not in PURE_HEADERS:
                yield f"{place}: engine folder {folder} may not include <{header}>"


def check_engine(where, relative, text):
    """What engine code may not name."""
    bare = without_comments(text)
    for pattern, what in IMPURE.items():
        for match in re.finditer(pattern, bare):
            yield f"{where}:{line_of(bare, match.start())}: the engine may not use {what}: `{match.group()}`"
    for match in INEXACT_CALL.finditer(bare):
        before, name = match.group("before"), match.group("name")
        own = before.endswith(("maths::", ".", "->"))
        if relative == MATHS and before == "":
            own = True
        if not own:
            yield f"{where}:{line_of(bare, match.start())}: write maths::{name}, not {before}{name}: its bits vary"


def check_sources(tree):
    source = tree / "src"
    for path in sorted(source.rglob("*")):
        if path.suffix not in {".cpp", ".hpp", ".h"}:
            continue
        relative = path.relative_to(source).as_posix()
        where = f"src/{relative}"
        folder = relative.split("/")[0]
        if folder not in USES:
            yield f"{where}:1: folder {folder} has no place in the dependency rule (tests/architecture/check.py)"
            continue
        text = path.read_text(encoding="utf-8")
        if path.suffix != ".cpp" and "#pragma once" not in text:
            yield f"{where}:1: a header needs #pragma once"
        yield from check_includes(where, folder, text)
        if folder in ENGINE:
            yield from check_engine(where, relative, text)


def types_of(text):
    """(namespace, name, offset) of each type defined at namespace scope, unnamed namespaces left out."""
    bare = without_comments(text)
    scopes = []  # names of namespaces; None for any other brace and for what is in an unnamed one
    token = re.compile(
        r"namespace\s*(?P<space>[\w:]*)\s*\{|\b(?:struct|class|union|enum(?:\s+class)?)\s+(?P<type>[\w:]+)[^;{}()=]*\{|[{}]"
    )
    for match in token.finditer(bare):
        if match.group() == "}":
            if scopes:
                scopes.pop()
            continue
        if match["type"] and None not in scopes and "::" not in match["type"]:
            yield "::".join(scopes), match["type"], match.start()
        scopes.append(match["space"] or None)


def check_names(tree):
    """Two types of one full name break the one-definition rule: the linker keeps one's functions for both."""
    first = {}
    for path in sorted((tree / "src").rglob("*")):
        if path.suffix not in {".cpp", ".hpp", ".h"}:
            continue
        where = path.relative_to(tree).as_posix()
        text = path.read_text(encoding="utf-8")
        for space, name, offset in types_of(text):
            other = first.setdefault((space, name), where)
            if other != where:
                yield f"{where}:{line_of(text, offset)}: {space}::{name} is defined in {other} too: one of them needs another name"


def check_links_of_libraries(tree):
    """CMake must link what the rule says, no more."""
    cmake = tree / "CMakeLists.txt"
    if not cmake.exists():
        return
    text = cmake.read_text(encoding="utf-8")
    for match in re.finditer(r"^tillwrap_library\((\w+)([^)]*)\)", text, re.MULTILINE):
        folder, rest = match.groups()
        links = re.findall(r"\btw_(\w+)", rest)
        if folder not in USES or sorted(links) != sorted(USES[folder]):
            yield (
                f"CMakeLists.txt:{line_of(text, match.start())}: {folder} links {', '.join(links) or 'nothing'}; "
                f"the rule says {', '.join(USES.get(folder, [])) or 'nothing'}"
            )


def our_files(tree):
    for path in sorted(tree.iterdir()):
        if path.name in NOT_OURS or path.name.startswith("build-") or path.is_symlink():
            continue
        if path.is_dir():
            yield from our_files(path)
        else:
            yield path


def check_length(tree):
    for path in our_files(tree):
        if path.suffix in CODE:
            lines = path.read_bytes().count(b"\n")
            if lines > MOST_LINES:
                yield f"{path.relative_to(tree).as_posix()}:{lines}: {lines} lines; at most {MOST_LINES}, one concept a file"


def anchors(text):
    """Heading anchors as code-hosting sites make them."""
    found = set()
    for heading in re.findall(r"^#{1,6}\s+(.+?)\s*#*$", re.sub(r"```.*?```", "", text, flags=re.DOTALL), re.MULTILINE):
        slug = re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")
        count = 0
        while (name := f"{slug}-{count}" if count else slug) in found:
            count += 1
        found.add(name)
    return found


def check_documents(tree):
    """Every relative link of every document leads somewhere, with its heading."""
    for path in our_files(tree):
        if path.suffix != ".md":
            continue
        text = path.read_text(encoding="utf-8")
        prose = re.sub(r"```.*?```|`[^`\n]*`", lambda m: re.sub(r"[^\n]", " ", m.group()), text, flags=re.DOTALL)
        for match in re.finditer(r"\]\(\s*<?([^)\s>]+)>?[^)]*\)", prose):
            target = match.group(1)
            if re.match(r"[a-z][a-z0-9+.-]*:", target):
                continue
            place = f"{path.relative_to(tree).as_posix()}:{line_of(text, match.start())}"
            name, _, anchor = target.partition("#")
            file = (path.parent / name) if name else path
            if not file.exists():
                yield f"{place}: the link to {target} leads nowhere"
            elif anchor and file.suffix == ".md" and anchor not in anchors(file.read_text(encoding="utf-8")):
                yield f"{place}: {name or path.name} has no heading #{anchor}"


def check_toml(tree):
    for path in our_files(tree):
        # Files under tests/ may be broken on purpose.
        if path.suffix == ".toml" and path.relative_to(tree).parts[0] != "tests":
            try:
                tomllib.loads(path.read_text(encoding="utf-8"))
            except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
                yield f"{path.relative_to(tree).as_posix()}:1: not TOML: {error}"


def findings(tree):
    tree = Path(tree)
    for check in (check_sources, check_names, check_links_of_libraries, check_length, check_documents, check_toml):
        yield from check(tree)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    found = list(findings(sys.argv[1]))
    print("\n".join(found) if found else "no findings")
    sys.exit(1 if found else 0)
