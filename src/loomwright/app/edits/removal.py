"""Taking out whatever a path names."""

from loomwright.app.edits.chains import remove_chain
from loomwright.app.edits.components import remove_component
from loomwright.app.edits.lines import remove_line
from loomwright.app.edits.locks import remove_lock
from loomwright.app.edits.names import EditError
from loomwright.app.edits.places import remove_place, remove_run
from loomwright.app.edits.stations import remove_station
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Path, path_text


def removal(vehicle: Vehicle, path: Path) -> Change:
    """The change that takes out a component, place, run, line, lock, chain or station."""
    name = str(path[1]) if len(path) > 1 else ""
    if len(path) == 4 and path[0] == "lines" and path[2] == "stations" and isinstance(path[3], int):
        return remove_station(vehicle, name, path[3])
    if len(path) == 2:
        by_kind = {
            "chains": remove_chain,
            "components": remove_component,
            "lines": remove_line,
            "locks": remove_lock,
            "places": remove_place,
            "runs": remove_run,
        }
        if path[0] in by_kind:
            return by_kind[str(path[0])](vehicle, name)
    raise EditError(f"{path_text(path)} cannot be taken out by itself")
