"""How each figure of traffic comes about."""

from collections.abc import Mapping
from types import MappingProxyType

from loomwright.show.words.formula import Formula

_SAID = Formula("Looked up among everything that is said on each line, gateways included.")
_ERRORS = "Disturbed frames, unless the line's errors_at_once says how many to expect."
_RESTART = "A node that restarts or falls silent."
_RESPONSE = (
    "The longest lower frame under way, every frame of higher rank that can come meanwhile with its jitter, one's own "
    "jitter, one's own frame; taken over all instances of the busiest stretch. Frames at their longest."
)

TRAFFIC_RULES: Mapping[str, Formula] = MappingProxyType(
    {
        "message-sent": _SAID,
        "message-heard": _SAID,
        "message-needed": _SAID,
        "one-sender": Formula("Senders counted of each identifier on each line."),
        "forward-heard": _SAID,
        "forward-identifier": Formula("Senders counted of each identifier that a gateway brings to a line."),
        "signals-fit": Formula(
            "The bits of each signal listed by its start, length and byte order; bits counted that two signals have that can "
            "be in the message at the same time, and signals with bits past its last byte."
        ),
        "same-definition": Formula(
            "The receiver's description laid over the message with the same identifier that is sent on its line; what differs "
            "is counted.",
            ("Value names and ranges.",),
        ),
        "same-guards": Formula(
            "Counter and checksum of the two descriptions compared: place, and rule of the checksum."
        ),
        "identifier-width": Formula("The width of the identifier against the width that the line uses."),
        "message-fits": Formula(
            "Bytes of the message against those of the line's frames and of its protocol's transport."
        ),
        "one-address": Formula("Ports counted that have the address on the line."),
        "address-in-identifier": Formula("The lowest eight bits of the identifier against the port's address."),
        "line-load": Formula(
            "For each periodic message the mean length of its frame over its period; all added up, for each state of the vehicle.",
            ("Events: nobody says how often they come.", _ERRORS, "The mean length takes payloads as random."),
        ),
        "line-overload": Formula(
            "For each message the longest frame over its period or least gap; all added up.", (_ERRORS,)
        ),
        "in-time": Formula(
            _RESPONSE, (_ERRORS, _RESTART, "Time within the sender before the message is ready, but for its jitter.")
        ),
        "in-time-out": Formula(
            "The period, and the worst less the best response: one message as early, the next as late as can be.",
            (_RESTART, _ERRORS),
        ),
        "fresh": Formula(
            "For each message on the way its period and worst response, for each gateway its cycle and delay, for the user "
            "twice its cycle where that is stated; all added up.",
            ("Time within the sensor.", _ERRORS),
        ),
        "chain-in-time": Formula(
            "For each message its period and worst response (an event is sent at once), for each gateway its cycle and delay, "
            "for each component twice its cycle where that is stated; all added up.",
            ("Components whose cycle is not stated.", "Time within sensor and actuator.", _ERRORS),
        ),
    }
)
