"""What to ask the manual of a component, by its role.

The facts of a port are asked of every component (``Field.ask`` of the model). A role sharpens some of these questions
and adds others that the model does not store: they belong on the sheet all the same, because the same evening with the
same manual answers them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class RoleQuestions:
    """Sharper questions for facts of a port, by field; further questions whose answers are not stored."""

    sharper: Mapping[str, str] = field(default_factory=dict)
    also: tuple[str, ...] = ()


HIGH_VOLTAGE = frozenset(
    ("battery manager", "inverter", "charger", "dc-dc converter", "junction box", "insulation monitor", "heater",
     "compressor", "charge controller")
)  # fmt: skip
CAUTION = (
    "This component has to do with high voltage. Work on it is for people trained and licensed for it where you live; "
    "local rules and the maker's manual go before anything on this sheet."
)

CONNECTOR = "Which connector, and which of its cavities, lead the two bus wires? Are they there twice, in and out?"
WAKE = "What wakes it: a wire, a message, or supply alone? How long does it stay awake?"
SILENCE = "What does it do when the messages that it waits for stop, and after how long?"
ADDRESS = "How is it told from a second one of its kind: address, node number, wiring?"
PERIOD = "Which messages does it send, how often, and which must it receive?"
ENABLE = "Does it need an enable wire besides the messages?"

_SENSED = {
    "bit_rates_bit_per_s": "Which bit rate is it delivered with, and can a customer change it?",
    "termination": "Is a terminating resistor built in? Sensors are often sold in two versions: look at the order code.",
}
_POWER_STAGE = {
    "termination": "Is a terminating resistor built in, on which board revision, and can it be switched off?",
    "bit_rates_bit_per_s": "Which bit rates, and are they set by parameter or by order code?",
}
_NUMBERED = {
    "identifiers": "Does it use 11-bit or 29-bit identifiers, and can the base number be moved?",
    "termination": "Is a terminating resistor built in, or switched by a pin bridge in the plug?",
}

ROLE_QUESTIONS: Mapping[str, RoleQuestions] = MappingProxyType(
    {
        "vehicle controller": RoleQuestions(
            {
                "termination": "For each port: is a terminating resistor built in, and is it switched by software, jumper or pin?",
                "frames": "Which of its ports bear FD frames?",
                "bit_rates_bit_per_s": "Which bit rates can each port run at, each by itself?",
            },
            (
                "Does it pass messages from port to port, and with how much delay?",
                CONNECTOR,
                WAKE,
                "How is it programmed: over which port, and does that port stay free for it?",
            ),
        ),
        "gateway": RoleQuestions(
            {
                "bit_rates_bit_per_s": "Which bit rates can each port run at, each by itself?",
                "identifiers": "Does it pass 11-bit and 29-bit identifiers, and can it turn one into the other?",
                "termination": "For each port: is a terminating resistor built in, and can it be switched off?",
            },
            ("Which messages does it pass, and how is that list changed?", "How long does it hold a message up?", CONNECTOR, WAKE),
        ),
        "battery manager": RoleQuestions(
            {"termination": "Is a terminating resistor built in, and does it stay when the pack is out for service?"},
            (
                "Which limits of current does it send, and how soon must inverter and charger follow?",
                "Who commands its contactors and the precharge, and by which message?",
                "Does it have a second port for the charger?",
                CONNECTOR,
                WAKE,
                SILENCE,
            ),
        ),
        "inverter": RoleQuestions(
            {
                **_POWER_STAGE,
                "protocols": "Which protocols does it speak, and which of them is loaded in yours?",
                "pigtail_m": "Does the bus come out on a lead? How long is it from the box to the connector?",
            },
            (CONNECTOR, PERIOD, SILENCE, ENABLE, "How far must bus cable stay from its motor and battery leads?"),
        ),
        "charger": RoleQuestions(
            {**_POWER_STAGE, "identifiers": "Does it use 11-bit or 29-bit identifiers? Two chargers: can one be moved to others?"},
            (ADDRESS, PERIOD, "Does it charge without messages, and is there a way to forbid that?", ENABLE, CONNECTOR, WAKE),
        ),
        "dc-dc converter": RoleQuestions(
            {**_POWER_STAGE},
            ("Does it work without messages once it is enabled?", ENABLE, ADDRESS, CONNECTOR, SILENCE),
        ),
        "junction box": RoleQuestions(
            {"termination": "Is a terminating resistor built in, and can it be switched off from outside the sealed box?"},
            ("Which contactors and fuses are inside, and who commands them?", "Is the precharge in it?", CONNECTOR, WAKE),
        ),
        "insulation monitor": RoleQuestions(
            {"bit_rates_bit_per_s": "Which bit rate is it delivered with? Many are fixed by order code."},
            ("Which insulation values make it warn, and are they set by message?", "Does another device measure too?", CONNECTOR),
        ),
        "heater": RoleQuestions(
            {**_NUMBERED},
            ("What does it do when its coolant stands still?", PERIOD, SILENCE, ENABLE, CONNECTOR),
        ),
        "coolant pump": RoleQuestions(
            {**_NUMBERED},
            ("At which speed does it run when no message comes?", ADDRESS, "Can it be run by a PWM wire instead?", CONNECTOR),
        ),
        "fan": RoleQuestions(
            {**_NUMBERED},
            ("At which speed does it run when no message comes?", ADDRESS, "Can it be run by a PWM wire instead?", CONNECTOR),
        ),
        "compressor": RoleQuestions(
            {**_POWER_STAGE},
            ("Which speeds may be asked of it, and how soon after a stop may it start?", SILENCE, ENABLE, CONNECTOR),
        ),
        "hydraulic pump": RoleQuestions(
            {**_NUMBERED},
            ("Which message starts it, and which stops it at once?", "Does a wire stop it without the bus?", SILENCE, CONNECTOR),
        ),
        "thermal controller": RoleQuestions(
            {"protocols": "Which protocols does it speak to the controller, and which to its own pumps and valves?"},
            ("Does it have a second port for its own pumps and valves?", SILENCE, CONNECTOR, WAKE),
        ),
        "instrument cluster": RoleQuestions(
            {"bit_rates_bit_per_s": "At which bit rate did it run in its first life? It is rarely adjustable."},
            ("Which messages does it want to see, and which lamps come on without them?", "Does it answer for the odometer?", CONNECTOR),
        ),
        "display": RoleQuestions(
            {"termination": "Is a terminating resistor built in? Displays often have one that a jumper sets."},
            ("Which messages can be shown, and how are pages loaded?", CONNECTOR, WAKE),
        ),
        "pedal": RoleQuestions(
            {**_SENSED},
            ("Does it send both tracks, and how is a difference told?", PERIOD, SILENCE, CONNECTOR),
        ),
        "gear selector": RoleQuestions(
            {**_SENSED},
            ("How does it tell a stuck lever?", PERIOD, "Does it need a message for its lamps or its lock?", CONNECTOR),
        ),
        "switch panel": RoleQuestions(
            {**_NUMBERED},
            ("Can each lamp be set by message, and what do they show without one?", ADDRESS, CONNECTOR, WAKE),
        ),
        "steering": RoleQuestions(
            {"bit_rates_bit_per_s": "At which bit rate did it run in its first life? It is rarely adjustable."},
            ("Which speed and status messages does it want before it helps?", "What help is left without the bus?", SILENCE, CONNECTOR),
        ),
        "brakes": RoleQuestions(
            {"bit_rates_bit_per_s": "At which bit rate did it run in its first life? It is rarely adjustable."},
            (
                "Which messages may be read from it, and does its maker allow any to be sent to it?",
                "Brakes must work with the bus torn out: how does its manual show that?",
                CONNECTOR,
            ),
        ),
        "lamps": RoleQuestions({**_NUMBERED}, ("Which lamps stay on when messages stop?", ADDRESS, CONNECTOR)),
        "body controller": RoleQuestions(
            {"bit_rates_bit_per_s": "At which bit rate did it run in its first life? It is rarely adjustable."},
            ("Which messages keep it awake, and which does it miss without the engine?", CONNECTOR, WAKE),
        ),
        "telematics": RoleQuestions(
            {"termination": "Is a terminating resistor built in? Boxes for later fitting often have one switched on."},
            ("Does it only listen, or also send? Can sending be forbidden?", WAKE, CONNECTOR),
        ),
        "charge controller": RoleQuestions(
            {**_POWER_STAGE},
            ("Which socket, post and charger does it go with?", "Does it have a port of its own for the charger?", CONNECTOR, WAKE),
        ),
        "sensor": RoleQuestions({**_SENSED}, (ADDRESS, PERIOD, CONNECTOR)),
        "service plug": RoleQuestions(
            {
                "termination": "Bare contacts, or a resistor inside? Measure between the two bus contacts with nothing connected.",
                "pigtail_m": "How long is the lead behind the plug?",
            },
            ("Can it be reached without tools?", "How long is the cable of the tool that will be plugged in?"),
        ),
        "other": RoleQuestions({}, (PERIOD, SILENCE, CONNECTOR, WAKE)),
    }
)  # fmt: skip


def questions_of(role: str) -> RoleQuestions:
    """The questions of a role; none sharper and no further ones for a role that has no entry."""
    return ROLE_QUESTIONS.get(role, RoleQuestions())
