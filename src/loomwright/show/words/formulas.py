"""Formulas in words: how each figure comes about, and what is left out of it."""

from collections.abc import Mapping
from types import MappingProxyType

from loomwright.show.words.formula import Formula
from loomwright.show.words.formulas_traffic import TRAFFIC_RULES

_TAPE = "How well the lengths were measured: a tape along a run is good for a few centimetres."
_ENDS = "What stands past the outermost terminations is told by a rule of its own."
_PLAIN = Formula("Compared as written: what the port can do against what the line asks for.")
_COUNTED = Formula("Counted along the stations of the line.")

FIGURES: Mapping[str, Formula] = MappingProxyType(
    {
        "trunk_m": Formula(
            "The sum of all sections from the first stop to the last. A section is as long as it was measured, or else the "
            "shortest way along the runs. Where an end stop terminates the line at its own pins, its lead belongs to the trunk.",
            (_TAPE,),
        ),
        "branches_m": Formula("The sum of all branches, own leads included.", (_TAPE,)),
        "cable_m": Formula(
            "The trunk and all branches together.", (_TAPE, "Waste at crimps, and spare length at each end.")
        ),
        "distance_m": Formula(
            "The sum of the sections of the trunk from its first end to where this stop joins it.", (_TAPE,)
        ),
        "branch_m": Formula(
            "Cable from the trunk to the component's connector, as measured or along the runs, plus the component's own lead. "
            "It is 0 where the trunk itself passes through, or where it ends at this stop's own termination.",
            (_TAPE,),
        ),
        "ohm": Formula(
            "Every termination that is on and every input resistance joins the two wires; the cable between them has its loop "
            "resistance, twice the conductor's times its length. Kirchhoff's current law at every joint gives the reading at "
            "this connector. All of them low, and all of them high, give the two bounds.",
            (
                "Contact resistance, 2.5 to 10 mΩ for each contact.",
                "The temperature of the copper, 0.4 % for each kelvin of a few ohm.",
                "Anything that is still awake: a talking node upsets the meter.",
            ),
        ),
    }
)
"""For the figures of lines and stops, by the end of their path."""

RULES: Mapping[str, Formula] = MappingProxyType(
    {
        "two-terminations": Formula(
            "Terminations counted that are on: fixed ones, switchable ones that are switched on, plug-in terminators. "
            "One that the trunk comes back to is counted once."
        ),
        "terminations-at-ends": Formula(
            "Length of the trunk less the way to the outermost termination, at each end.", (_TAPE,)
        ),
        "fixed-terminator-mid-trunk": Formula("The shorter one of its two ways along the trunk to an end.", (_TAPE,)),
        "terminator-value": Formula(
            "The resistance as its source states it; nothing is added to it.", ("Its tolerance and temperature.",)
        ),
        "line-resistance": FIGURES["ohm"],
        "rule-set-covers-rate": Formula("The line's bit rate looked up in the rule set."),
        "trunk-length": FIGURES["trunk_m"],
        "branch-length": FIGURES["branch_m"],
        "branch-reaches": Formula(
            "The limit is the shortest way along the runs from the joint to the component, less a centimetre for rounding; a "
            "run of unknown length counts by its straight distance.",
            ("Slack for bends and for working on the connector.",),
        ),
        "branches-total": FIGURES["branches_m"],
        "station-spacing": Formula(
            "The trunk between two neighbouring joints, at the closest pair. Joints at one place without a measured section are left out.",
            (_TAPE,),
        ),
        "node-count": Formula(
            "Stations with a transceiver of their own, counted once each.",
            ("Service plugs: bare contacts are no node.",),
        ),
        "length-by-cross-section": Formula(
            "The limit is the length at which the farthest node still sees the dominant level: the driver's voltage is divided "
            "by the loop resistance of the cable, the terminations and the input resistance of all nodes. The cable's highest "
            "resistance is taken.",
            ("The temperature of the copper.", "The real input resistances: the published conditions are kept."),
        ),
        "branch-by-propagation": Formula(
            "The limit is the propagation segment divided by 50 times the cable's delay for each metre.", (_ENDS,)
        ),
        "branches-by-propagation": Formula(
            "The limit is the propagation segment divided by 10 times the cable's delay for each metre.", (_ENDS,)
        ),
        "cable-impedance": Formula(
            "The impedance as the cable's source states it.", ("Untwisted ends at connectors.",)
        ),
        "high-voltage-clearance": Formula(
            "The smallest distance written for any run that the line takes.", ("Runs that say nothing.",)
        ),
        "bit-rate-match": _PLAIN,
        "data-bit-rate-match": _PLAIN,
        "identifier-match": _PLAIN,
        "frames-match": _PLAIN,
        "protocol-match": _PLAIN,
        "way-exists": Formula("Runs followed from stop to stop; a gap is told where it is met."),
        "station-once": _COUNTED,
        "line-has-controller": Formula(
            "The port that the line names is looked for among its stations: 1 when it is there, else 0."
        ),
        "service-plug": _COUNTED,
        "facts-known": Formula("Facts counted that are unknown and that something waits for."),
        "port-on-a-line": Formula("Lines counted that have the port among their stations."),
        "port-on-one-line": Formula("Lines counted that have the port among their stations."),
        "controller-reached": Formula(
            "From the component along its line, and through gateways along theirs, to a vehicle controller: 1 when there is a way, else 0.",
            ("Whether the gateway passes these very messages.",),
        ),
        "run-length": Formula(
            "The straight distance of the run's two places, from their coordinates, less a centimetre for rounding; where a "
            "place gives no height, seen from above.",
        ),
        "lock-kept": Formula("The lock's demand looked up in the lines as they are: 1 when it is kept, else 0."),
        **TRAFFIC_RULES,
    }
)
"""For the measured value of each rule."""
