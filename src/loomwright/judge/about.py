"""What every rule means, under the same headings, for somebody who is learning."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class About:
    """One rule's page: what it measures, why it matters, an example, what cures it, where the limit comes from."""

    measures: str
    why: str
    example: str
    cure: str
    source: str


ABOUT: Mapping[str, About] = MappingProxyType(
    {
        "two-terminations": About(
            "The number of terminating resistors that are on: fixed ones, switchable ones that are switched on, and plug-in terminators.",
            "A bus line is a pair of wires along which every edge travels like a wave. A resistor of the cable's own impedance at each end swallows the wave. With one missing it comes back and rings; with a third the drivers are loaded so much that receivers may miss the dominant level.",
            "A charger with a built-in 120 ohm in the middle of a line that already has two: the meter shows 40 ohm instead of 60.",
            "Switch on the terminations of the two end stations, or plug in a terminator where an end has none; switch off or remove every other.",
            "Mack service literature: never more than two; SAE J1939-11 as quoted by Allison: 120 ohm at both ends.",
        ),
        "terminations-at-ends": About(
            "How much trunk cable runs on past the outermost termination at each end.",
            "Cable beyond the termination is an open branch: the wave runs into it, returns, and arrives at everybody a little later with the wrong sign.",
            "The trunk was lengthened by 2 m to a new display, but the terminator stayed where the line used to end.",
            "Move the termination to the last station, or end the trunk where the termination is.",
            "SAE J1939-11 as quoted by Allison: terminations at both ends.",
        ),
        "fixed-terminator-mid-trunk": About(
            "How far a component whose termination cannot be switched off stands from the nearer end of its line.",
            "Such a component can only be an end of a line. Anywhere else it loads the line and the true ends are left with one termination too many or too few.",
            "An old inverter with a soldered 120 ohm, wired between two other components.",
            "Put it at an end of the trunk, give it a line where it can be one, or have its maker remove the resistor.",
            "SAE J1939-11 as quoted by Allison: terminations at both ends.",
        ),
        "terminator-value": About(
            "The resistance of every termination that is on.",
            "It must match the cable's impedance of about 120 ohm. One 60 ohm resistor instead of two of 120 ohm gives the right meter reading and the wrong behaviour.",
            "A single 60 ohm resistor at the controller, nothing at the far end.",
            "Use 120 ohm, 1 %, at least 0.25 W, at each end.",
            "Mack service literature: each terminator 110 to 130 ohm.",
        ),
        "line-resistance": About(
            "The ohm-meter reading expected between the two bus wires, at the connector where it is farthest from 60 ohm, with everything plugged in and asleep.",
            "It is the first thing anyone measures on a dead line: 60 is healthy, 120 means one termination is missing or a wire is open, 40 a third termination.",
            "Ten nodes of 30 kohm on a sound line read 58.8 ohm.",
            "See the findings about terminations; a long thin cable also raises the reading at its ends.",
            "Mack service literature: both terminators together 50 to 70 ohm.",
        ),
        "rule-set-covers-rate": About(
            "Whether the rule set you chose to govern a line says anything about that line's bit rate.",
            "Limits on length hold for the bit rate they were written for. A set that is silent proves nothing, however short your branches are.",
            "SAE J1939-15 chosen for a line at 500 kbit/s; it is written for 250 kbit/s.",
            "Choose a rule set that covers the bit rate, such as CiA 303-1.",
            "Follows from the rule sets themselves.",
        ),
        "trunk-length": About(
            "The length of the trunk from end to end; with SAE J1939-15 all branches are counted in.",
            "While a bit is on the line every node must agree on it, so its edge has to reach the far end and the answer come back within part of the bit. Twice the bit rate, half the length.",
            "46 m of cable at 250 kbit/s under SAE J1939-11, which allows 40 m.",
            "Take a shorter way, split the line with a gateway, or lower the bit rate if every component can.",
            "SAE J1939-11 and -15 as quoted by Allison; CiA recommendation 07/95; ISO 11898 as quoted by National Instruments.",
        ),
        "branch-length": About(
            "The length of each branch from the trunk to the component's pins, its own lead included.",
            "A branch is a dead end in which part of every edge runs to and fro. The longer the branch and the steeper the edge, the longer it rings.",
            "A display on a 4 m branch at 250 kbit/s under SAE J1939-15, which allows 3 m.",
            "Lead the trunk through the component, or move the branch point nearer to it.",
            "SAE J1939-11 (1 m) and -15 (3 m) as quoted by Allison; CANopen drop table (Motortech manual p. 50); ISO 11898 (0.3 m at 1 Mbit/s) as quoted by National Instruments.",
        ),
        "branch-reaches": About(
            "The branch cable entered by hand, against the shortest way along the runs from where it leaves the trunk to the component, less a centimetre for rounding. The component's own lead is not counted: it is kept to join the cable.",
            "A cable that does not reach cannot be built, and every figure made with its length is of a line that will never exist.",
            "0.25 m of branch written for a controller whose way from the trunk is 0.65 m along the runs.",
            "Measure it again; let the branch follow its runs; or lead the trunk to a place nearer to the component.",
            "Geometry.",
        ),
        "branches-total": About(
            "All branches of a line added up.",
            "Many short branches slow the edges as one long one does.",
            "Twelve branches of 2.5 m at 500 kbit/s: 30 m where 27.5 m are allowed.",
            "Lead the trunk through some of the components.",
            "CANopen drop table (Motortech manual rev 03/2019 p. 50).",
        ),
        "station-spacing": About(
            "The trunk between neighbouring joints, at the closest pair. Joints at one place without a measured section are left out.",
            "Two branches at the same spot act as one joint of four lines, which reflects half of the wave instead of a third.",
            "Two splices 4 cm apart behind the dash.",
            "Leave at least 0.1 m of trunk between joints.",
            "SAE J1939-11 and -15 as quoted by Allison: more than 0.1 m.",
        ),
        "node-count": About(
            "The number of nodes on the line; service plugs are not counted.",
            "Every node loads the line with its input resistance and capacitance.",
            "31 nodes under SAE J1939-11, which allows 30.",
            "Move components to another line.",
            "SAE J1939-11 as quoted by Perkins and others: 30 nodes. The 10 nodes of J1939-15 were lifted in 2014.",
        ),
        "length-by-cross-section": About(
            "The trunk against the length at which the farthest node still sees enough voltage, for the cable's resistance and the number of nodes.",
            "The cable's own resistance and the nodes' inputs divide the driver's voltage; a thin cable must be shorter.",
            "0.25 mm2 with 64 nodes: 170 m. In a vehicle this rarely bites, but it is what thicker cable buys.",
            "Use a larger cross-section or fewer nodes.",
            "Philips AN96116 (1996) eq. (8)-(10), (14)-(16), under the conditions of CiA 303-1 (1.5 V at the driver, 1.0 V threshold, nodes of 20 kohm, terminators of 118 ohm) as printed in ABB's FCAN-01 manual p. 34.",
        ),
        "branch-by-propagation": About(
            "The longest branch against a fiftieth of the propagation segment, by the cable's delay.",
            "A rule of thumb of the application note, shown as advice beside the governing rule set.",
            "A propagation segment of 1375 ns and 5 ns/m allow 5.5 m.",
            "Shorten the branch, or choose a bit timing with a longer propagation segment.",
            "Philips AN96116 (1996) section 6.5, eq. (12).",
        ),
        "branches-by-propagation": About(
            "All branches together against a tenth of the propagation segment, by the cable's delay.",
            "A rule of thumb of the application note, shown as advice beside the governing rule set.",
            "A propagation segment of 1375 ns and 5 ns/m allow 27.5 m.",
            "Shorten branches, or choose a bit timing with a longer propagation segment.",
            "Philips AN96116 (1996) section 6.5, eq. (13).",
        ),
        "cable-impedance": About(
            "The characteristic impedance of the cable the line is made of.",
            "Where impedance changes, part of the wave turns back. Two loose wires have no steady impedance at all.",
            "Loudspeaker cable of about 100 ohm, or shielded audio cable of 75 ohm, used as bus cable.",
            "Use twisted pair sold as 120 ohm bus cable.",
            "ISO 11898:1993 as quoted by National Instruments: 108 to 132 ohm (the 2003 edition is quoted with 95 to 140 ohm).",
        ),
        "high-voltage-clearance": About(
            "The smallest distance that the runs of a line keep to high-voltage cable.",
            "The inverter switches hundreds of amperes thousands of times a second; a bus cable tied to its cables picks that up. And a chafed high-voltage cable must not find a signal wire. High-voltage work is for those trained and licensed for it where you live.",
            "A bus pair fastened to the orange cables along the frame.",
            "Lead it along another run, cross at a right angle, or keep more distance; the component makers' manuals and local rules go before this figure.",
            "Common practice, from memory: no published figure was at hand.",
        ),
        "way-exists": About(
            "Whether runs join every station to the one before it, and every branch to its component.",
            "Cable can only be laid where there is a way for it; without one no length can be given.",
            "A component on the tipping body with no run from the frame to the body.",
            "Add the run, with its length measured, or move the component.",
            "Follows from the model.",
        ),
        "station-once": About(
            "How often the trunk returns to a station it has already visited.",
            "A closed ring has no ends to terminate: waves meet themselves.",
            "A spare pair pulled back to the controller 'for safety' and connected there.",
            "Cut the ring open and terminate the two ends.",
            "Analog Devices MAX33011E data sheet: star, ring or tree should never be used.",
        ),
        "bit-rate-match": About(
            "Whether each port can run at the line's bit rate.",
            "A node at another bit rate understands nothing and destroys what others say with error frames.",
            "An instrument cluster fixed at 125 kbit/s on a line at 250 kbit/s.",
            "Set the component's bit rate, change the line's, or put the component on another line.",
            "Common practice: all nodes of a line run at one bit rate.",
        ),
        "data-bit-rate-match": About(
            "Whether each port of an FD line can run its data phase at the line's data bit rate. A classical line has no data phase, and nothing is asked of it.",
            "After the identifier an FD frame goes on at another bit rate. A node that cannot follow takes the rest for an error.",
            "A pump whose manual allows a data phase of 2 Mbit/s on a line set to 5 Mbit/s.",
            "Set the component's data bit rate, lower the line's, or put the component on another line.",
            "Common practice: all nodes of a line run its data phase at one bit rate.",
        ),
        "identifier-match": About(
            "Whether each port understands the identifier width that the line uses.",
            "A component that sends 11-bit identifiers is not heard by one that listens for 29-bit ones; some old parts even disturb the other kind.",
            "A pedal with 11-bit identifiers on a J1939 line.",
            "Choose the width in the component if it can, or put it on another line.",
            "Common practice.",
        ),
        "frames-match": About(
            "Whether each port bears the frames in use on the line.",
            "A classical node takes an FD frame for an error and shouts it down.",
            "One classical pump on a line that uses FD frames.",
            "Use classical frames on this line, or move the component.",
            "Common practice.",
        ),
        "protocol-match": About(
            "Whether each port speaks the line's protocol.",
            "Protocols share wires only if their identifiers cannot clash, which has to be shown message by message.",
            "A CANopen encoder on a J1939 line.",
            'Put the component on a line of its protocol, name the line\'s own protocol in its file (`protocol = "J1939"`; left out it is raw), or name it among those the port can speak if its manual says so.',
            "Common practice.",
        ),
        "line-has-controller": About(
            "Whether the line names the controller or gateway port that masters it, and that port is one of its stations.",
            "Without one nobody in the vehicle hears what is said there.",
            "A charging line whose gateway port was never wired.",
            "Name the port as `controller` and add it to the stations.",
            "Common practice.",
        ),
        "service-plug": About(
            "The number of service plugs on the line.",
            "Sooner or later somebody has to listen with a laptop; cutting into the harness to do so is how faults are made.",
            "Three lines, and a diagnostic socket wired to one of them.",
            "Add a service plug where it can be reached without tools.",
            "Common practice.",
        ),
        "facts-known": About(
            "Facts that keep the line from being judged in full.",
            "Nothing here is computed from a guess. Each unknown fact names the answers that wait for it.",
            "A charger whose manual was not asked yet whether its termination can be switched off.",
            "Look it up, measure it, or write an assumption with its reason (`..._assumed`); `loomwright unknowns` ranks them.",
            "A principle of this program.",
        ),
        "port-on-a-line": About(
            "The number of lines that each needed port is on.",
            "A component that is on no line cannot be commanded or heard.",
            "A coolant pump whose plug was forgotten.",
            "Let it be arranged (Arrange on the page of lines, or `loomwright arrange`), or mark the port as not needed.",
            "Common practice.",
        ),
        "port-on-one-line": About(
            "The number of lines that claim the same port.",
            "One port is one pair of pins: two lines on it are one line, with four ends and two bit rates.",
            "A charger's only port listed on the drive line and on the charging line.",
            "Use a second port, or take it off one of the lines.",
            "Common practice.",
        ),
        "controller-reached": About(
            "Whether a vehicle controller hears the component, over its own line or through gateways.",
            "A component on a line that leads nowhere is as good as not connected.",
            "A heater on a line whose gateway forwards nothing to the drive line.",
            "Add a gateway port to that line, or move the component.",
            "Common practice.",
        ),
        "run-length": About(
            "The length written for each run, against the straight distance of its two places less a centimetre for rounding. Where a place gives no height, the distance is the one seen from above.",
            "No cable is shorter than a straight line: either the length or a coordinate is wrong, and every figure built on it too.",
            "1.2 m written for a run between places 2.1 m apart.",
            "Measure again, with a string along the run.",
            "Geometry.",
        ),
        "lock-kept": About(
            "Whether the lines as they are keep each lock.",
            "A lock is a decision with a reason; a line that breaks it has forgotten the reason.",
            "An inverter locked to be at an end, and somebody continued the line behind it.",
            "Arrange the line so that the lock holds, or drop the lock if its reason is gone.",
            "This project's own locks.",
        ),
    }
)
