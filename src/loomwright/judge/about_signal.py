"""What the rules of the physical layer mean, under the same headings as the others."""

from collections.abc import Mapping
from types import MappingProxyType

from loomwright.judge.about import About

SIGNAL_ABOUT: Mapping[str, About] = MappingProxyType(
    {
        "signal-settling": About(
            "The time from the start of a sender's edge until a receiver is sure of the bit for good, with the delay of both transceivers, for the worst sender of each receiver.",
            "Every edge is reflected at branches, at wrong terminations and at nodes. A receiver looks once in each bit, at its sample point; by then the ringing must be over.",
            "A branch of 3 m in the middle of a 20 m line delays the recessive edge by one round trip of the branch, 30 ns; a missing termination by a round trip of the whole line.",
            "Shorten one of the branches that ring, or lead the trunk nearer; with two terminations add no third. The advice tries each change, with lengths.",
            "Sample point: the port's own where its manual states one, else the usual one for the bit rate. Thresholds 0.9 V and 0.5 V: TI SN75LBC031 and Infineon TLE9262BQX data sheets.",
        ),
        "signal-level": About(
            "The lowest dominant level at each receiver: the weakest driver that the standard permits, all resistances at their lowest, the cable's copper at its coldest or its hottest, whichever leaves less.",
            "A receiver is sure of a dominant bit only above 0.9 V. A third termination or a long thin cable takes volts away.",
            "Three terminations of 120 ohm leave the weakest driver 1.37 V instead of 1.60 V.",
            "Remove surplus terminations, use a larger cross-section, or shorten the line.",
            "TI SN75LBC031 data sheet p. 6 and Infineon TLE9262BQX table 17 (0.9 V); TI TCAN1044V (weakest driver).",
        ),
        "there-and-back": About(
            "The time to the far end of the line and back, with all transceiver delays, by cable delay alone.",
            "When two nodes send at once, each must see the other's bit before it samples its own: the line has to be quick enough both ways.",
            "40 m at 1 Mbit/s with 255 ns transceivers: 910 ns, more than the 875 ns of a sample point at 87.5 %.",
            "Shorten the line, lower the bit rate, or name the real transceiver delays, which are usually shorter than the permitted 255 ns.",
            "Microchip online documents GUID-E48B4A26 eq. 14-9.",
        ),
        "bit-timing": About(
            "What keeps the line's nodes from one common bit timing: clocks that cannot be divided to the bit rate, sample points that cannot meet, a bit too short for the way there and back, oscillators too far apart. An oscillator whose tolerance nobody told is taken as exact, and named.",
            "All nodes have to look at the bit at nearly the same moment. A node that cannot be set decides for all others.",
            "A charger fixed at 70 % beside a controller at 87.5 %: on a long line the one reads before the other's answer is there.",
            "Set the nodes as the line's bit timing lists them. Where a node is in the way, choose a bit rate that its clock can make, or give it a line of its own.",
            "Two conditions on the oscillators: Bosch CAN specification, as repeated in public code. Sample points: CiA, as repeated in the documentation of a CANopen driver. Nodes within 1 % of each other: common practice.",
        ),
        "data-timing": About(
            "What keeps the nodes of an FD line from one common timing of the data phase: clocks that cannot be divided to the data bit rate, sample points of the data phase that cannot meet, oscillators too far apart. As advice: nodes with unlike time quanta in their two phases, and nodes too coarse to compensate their own delay.",
            "After the identifier an FD frame goes on faster. All nodes switch at once, at their sample points, and have to look at nearly the same moment of the short bits too; one that looks elsewhere spoils the frame for all.",
            "A display fixed at 70 % beside an inverter at 80 %, both at 2 Mbit/s; or a clock of 24 MHz, which cannot be divided to 5 Mbit/s.",
            "Set the nodes as the timing of the line's data phase lists them, with equal time quanta in both phases, and switch transmitter delay compensation on from 1 Mbit/s. Where a node is in the way, choose a data bit rate that its clock can make, or run the line with classical frames.",
            "Five conditions on the oscillators: ISO 11898-1, as public code repeats it; the standard was not at hand. Equal quanta, same sample points, largest jump, compensation from 1 Mbit/s: CiA on bit timing, Microchip online documents GUID-3593F97F. The band of 60 to 90 % for sample points, and 1 % between nodes: common practice.",
        ),
        "data-settling": About(
            "The time from the arrival of an edge at a receiver until it is sure of the bit for good, for its worst sender, against the earliest sample point of the data phase.",
            "Nobody answers within a bit of the data phase, and a receiver follows the edges it sees, so the way along the cable does not count; but bits are short, and ringing must be over all the same.",
            "At 2 Mbit/s and 75 % an edge has 375 ns; two branches of like length ring for longer.",
            "Shorten one of the branches that ring, or lower the data bit rate; with two terminations add no third.",
            "Sample point: the earliest that is told or chosen, else the usual one for the bit rate. Left out: what transceivers make of a bit's length, and what is left of the edges before.",
        ),
        "ground-offset": About(
            "The largest difference between the grounds of two components of the line, each at the worse end of what is stated. All are stated against the ground of the controller that the line names, so that one counts as 0 V. A ground that is still unknown is told by itself.",
            "Bus levels are measured against each node's own ground. Heavy return currents lift a ground; beyond the receiver's common-mode range it hears nothing. Measuring near high voltage belongs to those licensed for it.",
            "A hydraulic pump whose ground strap carries 150 A over 5 mohm sits 0.75 V above the battery.",
            "Give heavy loads their own return, shorten or thicken ground straps, bring signal grounds together.",
            "Infineon TLE9262BQX (common mode -12 to +12 V), less the recessive level of 2.5 V; the 2 V are practice, from memory.",
        ),
    }
)
