"""Reader of SteinLib's graph files, as far as set B needs it. Malformed text raises ``ValueError``, never passes."""

from dataclasses import dataclass

MAGIC = "33d32945"


@dataclass(frozen=True)
class Instance:
    nodes: int
    edges: tuple[tuple[int, int, float], ...]
    terminals: tuple[int, ...]


def read_stp(text: str) -> Instance:
    """Nodes are numbered from 0 in what is returned, from 1 in the file."""
    lines = [line.split("#")[0].strip() for line in text.splitlines()]
    lines = [line for line in lines if line]
    if not lines or MAGIC not in lines[0].lower():
        raise ValueError("not an STP file: the first line lacks the magic number")
    if lines[-1].upper() != "EOF":
        raise ValueError("cut off: the last line is not EOF")
    stated: dict[str, int] = {}
    edges, terminals = [], []
    for line in _inside(lines[1:-1], ("graph", "terminals")):
        key, *values = line.lower().split()
        if key in ("nodes", "edges", "terminals") and len(values) == 1:
            stated[key] = int(values[0])
        elif key == "e" and len(values) == 3:
            edges.append((int(values[0]) - 1, int(values[1]) - 1, float(values[2])))
        elif key == "t" and len(values) == 1:
            terminals.append(int(values[0]) - 1)
        else:
            raise ValueError(f"line not understood: {line!r}")
    found = {"edges": len(edges), "terminals": len(set(terminals))}
    for key in ("nodes", "edges", "terminals"):
        if key not in stated:
            raise ValueError(f"the count of {key} is missing")
        if key in found and stated[key] != found[key]:
            raise ValueError(f"{stated[key]} {key} announced, {found[key]} found")
    named = {node for a, b, _ in edges for node in (a, b)} | set(terminals)
    if not named <= set(range(stated["nodes"])):
        raise ValueError("a node number lies outside the graph")
    return Instance(stated["nodes"], tuple(edges), tuple(terminals))


def _inside(lines, sections):
    section = ""
    for line in lines:
        words = line.lower().split()
        if words[0] == "section":
            section = words[-1]
        elif words[0] == "end":
            section = ""
        elif section in sections:
            yield line
    if section:
        raise ValueError(f"section {section} is not ended")
