"""How each figure of traffic comes about."""

from collections.abc import Mapping
from types import MappingProxyType

from loomwright.show.words.formula import Formula

_SAID = Formula("Looked up among everything that is said on each line, gateways included.")
_ERRORS = "Disturbed frames, unless the line's errors_at_once says how many to expect."
_RESTART = "A node that restarts or falls silent."
_PACKETS = "A message in packets takes as long as transported-in-time says."
_FAST = "FD frames are taken to switch to the data bit rate."
_RESPONSE = (
    "The longest lower frame under way, every frame of higher rank that can come meanwhile with its jitter, one's own "
    "jitter, one's own frame; taken over all instances of the busiest stretch. Frames at their longest. "
    f"{_FAST}"
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
            (
                "Ranges of values.",
                "Value names that differ, but for those that say the contrary or belong to another value.",
            ),
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
            ("Events: nobody says how often they come.", _ERRORS, "The mean length takes payloads as random.", _FAST),
        ),
        "line-overload": Formula(
            "For each message the longest frame over its period or least gap; all added up.", (_ERRORS, _FAST)
        ),
        "in-time": Formula(
            _RESPONSE, (_ERRORS, _RESTART, "Time within the sender before the message is ready, but for its jitter.")
        ),
        "transported-in-time": Formula(
            "Of each message the sender has for the same receiver, or for everybody: for each packet the time between packets "
            "and the worst response, and that of what begins it; added up, because only one goes at a time, and again for "
            "each that comes meanwhile. The time between packets as the message states it in packet_spacing, else 50 to "
            "200 ms to everybody, 0 to 400 ms with the receiver's answers to one receiver (the longest from memory).",
            (_ERRORS, "Transfers that are broken off and begun anew."),
        ),
        "in-time-out": Formula(
            "The period, and the worst less the best response: one message as early, the next as late as can be. A value on one "
            f"of several pages waits for so many periods. What is sent on an event may stay away for ever. {_PACKETS}",
            (_RESTART, _ERRORS),
        ),
        "fresh": Formula(
            "For each message on the way its period and worst response, for each gateway its cycle and delay, for the user "
            "twice its cycle where that is stated; all added up. A value on one of several pages waits for so many periods, "
            f"pages sent in turn; the second of two events waits for the least gap between them. {_PACKETS}",
            ("Time within the sensor.", _ERRORS),
        ),
        "play-in-bounds": Formula(
            "Every frame of the line simulated, with random phases, jitter, payloads and drifting clocks; of each message the latest "
            "arrival after it was due.",
            ("A play proves nothing: it seldom meets the worst moment.",),
        ),
        "chain-in-time": Formula(
            "For each message its period and worst response (of an event its least gap: the second of two waits for it), for "
            "each gateway its cycle and delay, for each component twice its cycle where that is stated; all added up. "
            f"{_PACKETS}",
            (
                "Components whose cycle is not stated.",
                "Pages: a chain names messages, not values.",
                "Time within sensor and actuator.",
                _ERRORS,
            ),
        ),
    }
)
