"""Definition files: our reading against cantools' own (which it stands on) and canmatrix', on real files of opendbc.

Ours includes cantools' reading, the conversion into the model, and the report of everything that is left out.
Each figure is the shortest of several runs in one process, with the libraries loaded; ratios come from this one run.
Run: .venv/bin/python benchmarks/definition_files.py
"""

import io
import logging
import time
from importlib.resources import files
from pathlib import Path

import canmatrix.formats
import cantools.database

from loomwright.files.change import project_texts
from loomwright.files.definition import read_definition
from loomwright.files.load import understood
from loomwright.model.component import Component, Port
from loomwright.model.table import Table
from loomwright.model.vehicle import Place, Vehicle

FILES = ("cadillac_ct6_object.dbc", "hyundai_2015_ccan.dbc", "hyundai_2015_mcan.dbc", "ford_lincoln_base_pt.dbc")
PORTS = {"": "gateway.can"}


def shortest(work, repeat=5):
    """Shortest seconds of some runs, and the last result."""
    seconds = []
    for _ in range(repeat):
        begin = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - begin)
    return min(seconds), result


def with_messages(found):
    """A vehicle with one component that sends everything."""
    gateway = Component("gateway", "here", ports=Table({"can": Port()}))
    return Vehicle(
        "x",
        4.0,
        2.0,
        places=Table({"here": Place(1.0, 0.0)}),
        components=Table({"gateway": gateway}),
        messages=Table({"set": found}),
    )


def main():
    """Print a line for each file."""
    logging.disable(logging.WARNING)
    folder = Path(str(files("opendbc"))) / "dbc"
    for name in FILES:
        path = next(iter(sorted(folder.rglob(name))))
        raw = path.read_bytes()
        text = raw.decode("utf-8")
        ours, found = shortest(lambda raw=raw, name=name: read_definition(raw, name, PORTS))
        cantools_s, _ = shortest(lambda text=text: cantools.database.load_string(text, "dbc"))
        canmatrix_s, _ = shortest(lambda raw=raw: canmatrix.formats.load(io.BytesIO(raw), "dbc"))
        texts = project_texts(with_messages(found.set))
        toml_s, _ = shortest(lambda texts=texts: understood(dict(texts)), repeat=1)
        messages = found.set.messages.values()
        print(
            f"{name}: {len(messages)} messages, {sum(len(each.signals) for each in messages)} signals, {len(raw)} bytes: "
            f"ours {ours * 1e3:.0f} ms, cantools {cantools_s * 1e3:.0f} ms (ours / it {ours / cantools_s:.2f}), "
            f"canmatrix {canmatrix_s * 1e3:.0f} ms (ours / it {ours / canmatrix_s:.2f}); "
            f"as a project's text {len(texts['messages/set.toml'])} bytes, read in {toml_s * 1e3:.0f} ms"
        )


if __name__ == "__main__":
    main()
