"""Which forwards of gateways bring their message to a line, and why do the others not?"""

from dataclasses import dataclass

from loomwright.model.speech import Speech, message_at
from loomwright.solve.streams import Stream, lines_of_ports
from loomwright.terms.change import Path

BRINGS, NO_LINE, UNSENT, UNHEARD, OTHER_STATES = (
    "brings it",
    "its port is on no line",
    "sent by nobody",
    "not heard there",
    "in other states",
)


@dataclass(frozen=True, slots=True)
class Forwarding:
    """One forward and what came of it: ``outcome`` is BRINGS or why nothing is passed on.

    ``line`` is the one it is to bring the message to, ``sent_on`` those on which the message is sent otherwise, ``states``
    those of the vehicle in which it is.
    """

    path: Path
    component: str
    message: str
    port: str
    line: str
    outcome: str
    sent_on: tuple[str, ...]
    states: tuple[str, ...]


def forwardings(speech: Speech, streams: tuple[Stream, ...]) -> tuple[Forwarding, ...]:
    """Every forward of every gateway."""
    lines = lines_of_ports(speech)
    brought = {each.path for each in streams}
    found = []
    for component, voice in speech.voices.items():
        for name, forward in voice.forwards.items():
            if message_at(speech.sets, forward.message) is None:
                continue  # told where the files are read
            path: Path = ("components", component, "forwards", name)
            to = lines.get(f"{component}.{forward.to}", ())
            sent = [each for each in streams if each.message == forward.message and each.path != path]
            at = {line for port in voice.ports for line in lines.get(f"{component}.{port}", ())} - set(to)
            heard = [each for each in sent if each.line in at]
            if path in brought:
                outcome = BRINGS
            elif not to:
                outcome = NO_LINE
            else:
                outcome = OTHER_STATES if heard else UNHEARD if sent else UNSENT
            found.append(
                Forwarding(
                    path,
                    component,
                    forward.message,
                    f"{component}.{forward.to}",
                    to[0] if to else "",
                    outcome,
                    tuple(dict.fromkeys(each.line for each in sent)),
                    tuple(dict.fromkeys(state for each in heard for state in each.states)),
                )
            )
    return tuple(found)
