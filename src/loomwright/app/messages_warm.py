"""Loads the compiled loops of response times ahead, so that the first page does not wait for them."""

import threading


def warm_up() -> None:
    """Compute one response time and forget it. Takes about half a second in a new process, nothing later."""
    from loomwright.engines.flows import flows_of
    from loomwright.engines.response_times import response_times

    response_times(flows_of([10], [1000], [0], [1000], [-1], [5]), 1)


def begin_warming() -> None:
    """Do so beside whatever comes next."""
    threading.Thread(target=warm_up, name="warm-up", daemon=True).start()
