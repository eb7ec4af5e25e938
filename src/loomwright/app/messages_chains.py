"""Every chain from cause to effect: its strip of hops, the same in numbers, and by when it must be through."""

import math
from collections import defaultdict
from dataclasses import dataclass

from loomwright.app.check import worst
from loomwright.app.component_sheet import FactForm, fact_form
from loomwright.app.fields import FieldForm, field_form
from loomwright.app.messages_page import Judged, Missing, missing
from loomwright.app.messages_words import line_title, named, title_of
from loomwright.app.plan_drawing import PAGE_PX
from loomwright.app.project import Project
from loomwright.model.speech import sender_of
from loomwright.model.vehicle import Chain, Vehicle
from loomwright.show.names import component_title
from loomwright.show.quantity import bare, fact_text
from loomwright.show.traffic import chain_strip
from loomwright.solve.chains import ChainTimes, Hop
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.change import Path, path_text
from loomwright.terms.fact import value_of
from loomwright.terms.quantity import Kind


@dataclass(frozen=True, slots=True)
class HopRow:
    """One hop: what it is, where, and the most it waits and takes, in ms."""

    kind: str
    title: str
    where: str
    path: str
    waits: str
    takes: str
    whole: str


AGE = (
    "Age counts from when the first sender reads the value until the effect has acted on it. It is the whole less the wait "
    "for the last component's cycle, where one is stated: what is acted on has been read by then."
)


@dataclass(frozen=True, slots=True)
class ChainStrip:
    """A chain; times in ms. ``broken_at`` is who does not hear ``missing``, where the chain is torn.

    ``steps`` are name and title of its messages, ``called`` and ``acts`` the fields of its title and its effect.
    """

    name: str
    title: str
    path: str
    effect: str
    drawing: str
    hops: tuple[HopRow, ...]
    reaction: str
    why: str
    allowed: str
    age: str
    within: FactForm
    steps: tuple[tuple[str, str], ...]
    called: FieldForm
    acts: FieldForm
    waits_for: tuple[Missing, ...]
    broken_at: str
    lacks: str
    verdict: str


@dataclass(frozen=True, slots=True)
class Choices:
    """What a chain can be made of: messages by who sends them, and components, each with its title."""

    messages: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    components: tuple[tuple[str, str], ...]


def chain_choices(vehicle: Vehicle) -> Choices:
    """Every message that somebody sends, under its sender, and every component."""
    by_sender: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for set_name, messages in vehicle.messages.items():
        for own, message in messages.messages.items():
            sender = sender_of(vehicle.messages, f"{set_name}.{own}").partition(".")[0]
            if sender:
                by_sender[sender].append((f"{set_name}.{own}", named(own, message)))
    order = tuple((name, component_title(name, component)) for name, component in vehicle.components.items())
    return Choices(tuple((title, tuple(by_sender[name])) for name, title in order if by_sender[name]), order)


def chain_strips(project: Project) -> tuple[ChainStrip, ...]:
    """Every chain of the vehicle."""
    vehicle, judged = project.vehicle, Judged(project)
    found = project.answers.traffic(vehicle).chains
    return tuple(_strip(vehicle, name, chain, found[name], judged) for name, chain in vehicle.chains.items())


def _strip(vehicle: Vehicle, name: str, chain: Chain, answer: Answer[ChainTimes], judged: Judged) -> ChainStrip:
    path: Path = ("chains", name)
    drawing, reaction, age, torn, lacks = "", "?", "?", "", ""
    hops: tuple[HopRow, ...] = ()
    if not isinstance(answer, Blocked):
        times = answer.value
        within_s = value_of(chain.within_s)
        drawing = chain_strip(vehicle, times, within_s, standalone=False, width=PAGE_PX)
        hops = tuple(_hop(vehicle, hop) for hop in times.hops)
        if times.broken_at:
            torn = component_title(times.broken_at, vehicle.components.get(times.broken_at))
            lacks = times.missing
        reaction, age = ("" if torn else bare(value, Kind.TIME, "ms") for value in (times.reaction_s, times.age_s))
    return ChainStrip(
        name,
        chain.title or name.replace("_", " ").capitalize(),
        path_text(path),
        component_title(chain.effect, vehicle.components.get(chain.effect)),
        drawing,
        hops,
        reaction,
        "" if torn else judged.key("chain-in-time", path),
        fact_text(chain.within_s, Kind.TIME),
        age,
        fact_form(vehicle, (*path, "within_s")),
        tuple((step, title_of(vehicle, step)) for step in chain.steps),
        field_form(vehicle, (*path, "title")),
        field_form(vehicle, (*path, "effect")),
        missing(answer.by) if isinstance(answer, Blocked) else (),
        torn,
        lacks,
        worst(tuple(finding for finding in judged.all if finding.reading.subject == path)).value,
    )


def _hop(vehicle: Vehicle, hop: Hop) -> HopRow:
    if hop.kind == "message":
        set_name, _, own = hop.name.partition(".")
        title, path = title_of(vehicle, hop.name), f"messages.{set_name}.messages.{own}"
    else:
        title, path = component_title(hop.name, vehicle.components.get(hop.name)), f"components.{hop.name}"
    waits, takes = (bare(value, Kind.TIME, "ms") if value else "" for value in (hop.period_s, hop.response_s))
    whole = bare(hop.whole_s, Kind.TIME, "ms") if math.isfinite(hop.whole_s) else "∞"
    return HopRow(hop.kind, title, line_title(vehicle, hop.line) if hop.line else "", path, waits, takes, whole)
