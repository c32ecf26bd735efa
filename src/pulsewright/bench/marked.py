"""Values that stand on a sheet and are marked there as assumed: `opens = "20 deg BTDC"  # assumed: a usual cam`."""

import re

from pulsewright.bench.assumption import Assumption
from pulsewright.bench.toml_lines import line_numbers

MARK = "assumed"
_MARKED = re.compile(rf"^\s*(?P<key>[\w.\-\" ]+?)\s*=\s*(?P<value>.+?)\s*#\s*{MARK}\b[:,]?\s*(?P<why>.*?)\s*$")


def marked_assumptions(text: str) -> list[Assumption]:
    """Every key of a TOML text whose line ends in a comment that begins with 'assumed'."""
    if MARK not in text:
        return []
    found = {n: match for n, line in enumerate(text.splitlines(), 1) if (match := _MARKED.match(line))}
    paths = {n: "" for n in found}
    for path, line in line_numbers(text).items():
        if line in found and path.endswith(found[line]["key"].replace('"', "")):
            paths[line] = path
    return [
        Assumption(key=paths[n], value=match["value"].strip('"'), why=f"marked on the sheet; {match['why'] or MARK}")
        for n, match in found.items()
        if paths[n]
    ]
