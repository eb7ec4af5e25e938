"""What the rules of traffic mean, under the same headings as the others."""

from collections.abc import Mapping
from types import MappingProxyType

from loomwright.judge.about import About

TRAFFIC_ABOUT: Mapping[str, About] = MappingProxyType(
    {
        "message-sent": About(
            "Whether anybody sends a message that a component needs.",
            "A component that waits for a message nobody sends stays off, or runs with a stand-in value, and seldom says which.",
            "The inverter waits for an enable message that the old engine controller used to send.",
            "Have your own controller send it: add it to the controller's messages with the identifier the receiver's manual names. If its sender is on no line, put it on one.",
            "Common practice.",
        ),
        "message-heard": About(
            "Whether a component hears what it needs on a line that it is on.",
            "A message stays on its line. Whoever sits on another one hears it only if a gateway passes it on.",
            "The display on the body line shows the state of charge that the battery manager sends on the drive line.",
            "Add a forward to the gateway, with the identifier that the receiver expects, or move the component to the line where it is sent.",
            "Common practice.",
        ),
        "message-needed": About(
            "Whether anybody needs what is sent on a line. This is advice.",
            "Idle messages do no harm by themselves, but they take time on the line, and one that you thought was used may be a need you forgot to write down.",
            "A charger that repeats its serial number ten times a second.",
            "Write down who needs it, or switch it off or slow it down where the component lets you.",
            "Common practice.",
        ),
        "one-sender": About(
            "How many components send the same identifier on one line by themselves.",
            "Two nodes that send one identifier at once do not see each other until their data differ; then both break off, again and again, and receivers mix up two different messages.",
            "Two pumps of the same kind, both as delivered, both sending 0x321.",
            "Give one of them another identifier or address, or another line. Where it is one message in two files, of its sender and of a maker whose component hears it, give the maker's one expected_by in place of sender.",
            "ISO 11898-1: a data frame's identifier belongs to one sender at a time; from memory.",
        ),
        "forward-heard": About(
            "Whether a gateway hears what it is to pass on, in a state in which it is to pass it on.",
            "A forward of something that the gateway never hears brings nothing, and nobody notices until a receiver on the other line waits.",
            "A message that moved to another line with its sender, while the gateway still expects it on the old one.",
            "Put the gateway on a line where the message is sent, let another gateway bring it there, or take the forward out. Where states do not meet, give it those in which the message is sent.",
            "Common practice.",
        ),
        "forward-identifier": About(
            "How many senders the identifier of a passed-on message has on the line it comes to.",
            "What was unique on one line may be taken on the next. A bridge that copies blindly makes two senders of one identifier.",
            "The drive line's 0x120 is passed on to the old line, where the lamp module sends 0x120.",
            "Let the gateway send it on with an identifier that is free there, and that its receivers know.",
            "ISO 11898-1, as above; from memory.",
        ),
        "signals-fit": About(
            "Signals of a message that share bits, or that reach beyond its last byte.",
            "Two values on the same bits spoil each other. Mostly it is a slip: a start bit counted from the wrong end, or a byte order mixed up.",
            "A big-endian speed whose start bit was written down as if it were little endian.",
            "Compare with the manual's drawing of the frame. Bits 0 to 7 are the first byte; in big endian the start is the highest bit.",
            "Common practice.",
        ),
        "same-definition": About(
            "Whether a message is sent as its receiver's manual describes it: length, kind of frame, how often, and for each value its bits, the pages it is on, factor, offset, unit and names that say the contrary.",
            "Both manuals may be right about their own product. What counts is that the bits mean the same at both ends.",
            "The controller sends torque in steps of 0.1 Nm, the inverter takes steps of 0.5 Nm: five times the torque. Try such a message with the wheels off the ground and by those licensed for high voltage.",
            "Change the one that can be changed, mostly the message in your own controller.",
            "Common practice.",
        ),
        "same-guards": About(
            "Whether counter and checksum are sent where and as the receiver expects them.",
            "A receiver that finds a wrong checksum or a counter that stands still throws the message away, often without a word.",
            "The controller computes CRC-8/SAE-J1850, the inverter expects CRC-8/AUTOSAR.",
            "Set the sender to the rule, the start value and the place that the receiver's manual names.",
            "Common practice; checksums by their catalogue names.",
        ),
        "identifier-width": About(
            "Whether a message uses the identifier width of its line.",
            "Standard and extended identifiers can share a line, but a node that knows one kind only takes the other for an error, or never hears it.",
            "A J1939 message forwarded to a line of 11-bit nodes.",
            "Send it with an identifier of the line's width, or say that the line uses both, after looking it up for every node.",
            "ISO 11898-1, base and extended frame format; from memory.",
        ),
        "message-fits": About(
            "Whether the line has a frame that holds the message.",
            "A classical frame holds 8 bytes. Longer messages need FD frames, or a protocol that sends them in pieces, as J1939 does.",
            "A message of 12 bytes on a classical line of the raw kind.",
            "Split it, or use FD frames with nodes that all understand them.",
            "ISO 11898-1; SAE J1939-21 for its transport, read in texts on it.",
        ),
        "one-address": About(
            "How many nodes of a J1939 line have the same address.",
            "The address is part of every identifier a node sends. Two with the same one collide in everything they say, and a well-behaved one falls silent.",
            "Two coolant pumps delivered with address 39.",
            "Give each its own address, by setting or by its connector's coding pins.",
            "SAE J1939-81; from memory.",
        ),
        "address-in-identifier": About(
            "Whether a J1939 message ends in the address of the node that sends it.",
            "Receivers tell senders apart by the last byte of the identifier.",
            "A pump set from address 39 to 40, with its messages still written down as ...27.",
            "Correct the identifiers, or the address.",
            "SAE J1939-21, read in texts on it.",
        ),
        "line-load": About(
            "Share of a line's time that its periodic messages take in the mean, in the state of the vehicle in which it is fullest.",
            "A line that is half empty forgives: a burst, a disturbed frame, one more component. Events are not in the mean, because nobody says how often they come; they are in the next rule.",
            "Forty messages of 8 bytes every 10 ms at 250 kbit/s: more than the line can carry.",
            "Slow down what need not be quick, move a talkative component to another line, raise the bit rate where every node can follow.",
            "40 % on J1939: an engine maker's manual quotes it. 50 % elsewhere: common practice. A limit of your own goes into the line's file as load_limit.",
        ),
        "line-overload": About(
            "Share of a line's time if every frame came at its longest and every event as often as it may.",
            "Above 100 % the lowest priorities may wait for ever.",
            "Three switches that may each send an event every 5 ms.",
            "Give events a longer least gap, or slow other messages down.",
            "Arithmetic. Longest frames by Davis, Burns, Bril and Lukkien 2007, equations 1 to 3.",
        ),
        "in-time": About(
            "The longest time from when a message is due until it has arrived: its jitter, the longest lower frame under way, everything that outranks it, and itself.",
            "On a bus the lowest identifier goes first. One low in rank may wait through several others, and at the worst moment all of them want to send at once.",
            "A brake message with identifier 0x7A0 on a busy line: rarely late, but late when everything happens at once.",
            "Give urgent messages low identifiers; slow down, move or switch off what outranks it, above all what nobody needs. The command traffic --propose looks for identifiers.",
            "Davis, Burns, Bril, Lukkien: Controller Area Network schedulability analysis: refuted, revisited and revised (2007), held against another program. Deadline: the message's own, else before the next one is due.",
        ),
        "transported-in-time": About(
            "Of a J1939 message too long for one frame: the longest time until its last packet is there, what its sender has to send in packets first included.",
            "A sender broadcasts one such message at a time, with 50 to 200 ms from packet to packet, and sends one at a time to each receiver, which must clear the packets first. What looks like little on the line may take longer than its period.",
            "Two messages of 100 bytes, both every second: 15 packets each, 1.5 s at the least.",
            "Send it less often, leave out what nobody needs, or send what is urgent in messages of 8 bytes. Where the verdict hangs on the time between packets, look it up or watch it on the bench, and state it as packet_spacing.",
            "SAE J1939-21: 50 ms at the least and 7 bytes to a packet, read in texts on it; 200 ms at the most, 200 ms for each answer, and one message at a time, from memory. Deadline: the message's own, else before the next one is due.",
        ),
        "in-time-out": About(
            "The longest gap between two arrivals of a message that a component needs. What is sent on an event may stay away for ever.",
            "A receiver takes its sender for lost after its time-out, and then mostly shuts down. The period must leave room for at least the waiting on the line.",
            "A charger that expects its set-point every 200 ms, and a controller that sends it every 250 ms.",
            "Send it more often. Manuals often advise a time-out of several periods.",
            "The component's own manual, as written down in the project.",
        ),
        "fresh": About(
            "The oldest that a value may be when it has been used: the time until the next message is sent, its way over lines and gateways, and the user's own cycle once, in which it is read and acted on. Where nobody stated that cycle, the value may be used at any moment.",
            "Between two messages the receiver acts on the old one. With gateways that adds up. It is the age of a chain of this one message.",
            "A motor speed that is 150 ms old when the display shows it: fine. For a brake it is not.",
            "Send it more often, shorten the gateway's cycle, or let both sit on one line.",
            "The need as written down in the project; stages summed after Duerr 2019, read in public code.",
        ),
        "play-in-bounds": About(
            "Of a line that was played frame by frame: the latest arrival of each message, against the bound that was computed for it.",
            "A bound that is exceeded is no bound. Then the program is wrong, and its other times cannot be trusted either.",
            "None: it must not happen.",
            "Do not rely on the computed times of this line. Tell those who maintain the program, with the project's files and the number after --seed.",
            "Arithmetic: what is computed as the worst is never exceeded.",
        ),
        "chain-in-time": About(
            "The longest time from a cause to its effect, over all messages, gateways and cycles in between.",
            "Each stage may just have missed the change. Drivers feel 150 ms of pedal, and a fault must open contactors within the time the pack's manual allows.",
            "Pedal 10 ms, line 2 ms, controller 20 ms, line 2 ms, inverter 10 ms and each once more for having just been missed.",
            "The strip of hops shows where the time goes: mostly into cycles and periods, seldom into the line.",
            "Sum of period and response of each stage: Davare 2007, read in public code. The time allowed is the project's own.",
        ),
    }
)
