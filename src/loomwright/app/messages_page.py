"""What the page of messages shows: how full every line is, and how late its messages are, in drawings and in numbers."""

from collections.abc import Iterable
from dataclasses import dataclass

from loomwright.app.check import worst
from loomwright.app.margin import key_of, part_of
from loomwright.app.messages_words import title_of
from loomwright.app.plan_drawing import PAGE_PX
from loomwright.app.project import Project
from loomwright.app.traffic import LEFT_OUT
from loomwright.model.speech import speech_of
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title
from loomwright.show.quantity import bare
from loomwright.show.traffic import load_bars, timing_chart
from loomwright.show.traffic_tables import identifier_text
from loomwright.show.words import path_words
from loomwright.show.words.paths import path_question
from loomwright.solve.load import LineLoad, Share, least_load
from loomwright.solve.responses import LineResponses, Response
from loomwright.solve.traffic import Traffic
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Path, path_text
from loomwright.terms.finding import Finding, Verdict, Weight
from loomwright.terms.quantity import Kind

EVERY = "all"


@dataclass(frozen=True, slots=True)
class Missing:
    """A fact that nobody knows and that answers wait for: its path, its name, the question, where it is answered."""

    path: str
    words: str
    question: str
    where: str


@dataclass(frozen=True, slots=True)
class LoadRow:
    """How full a line is in the state in which it is fullest, in %; ``why`` are the keys of the findings that tell."""

    name: str
    title: str
    path: str
    messages: int
    state: str
    mean: str
    why_mean: str
    worst: str
    why_worst: str
    limit: str
    late: str
    verdict: str
    said_most: str


@dataclass(frozen=True, slots=True)
class TimeRow:
    """A message, or a part of one, on a line: times in ms, shares in %. ``before`` is what lines before may have cost."""

    path: str
    also: str
    message: str
    part: str
    title: str
    identifier: str
    sender: str
    sender_title: str
    length: int
    gap: str
    event: bool
    best: str
    worst: str
    before: str
    deadline: str
    slack: str
    mean: str
    most: str
    state: str
    verdict: str
    why: str


@dataclass(frozen=True, slots=True)
class LineTimes:
    """The times of one line: its chart and rows, or the facts they wait for."""

    name: str
    title: str
    path: str
    chart: str
    rows: tuple[TimeRow, ...]
    waits_for: tuple[Missing, ...]


@dataclass(frozen=True, slots=True)
class MessagesPage:
    """All lines by load, and the times of those chosen. ``chosen`` is a line's name or ``EVERY``."""

    drawing: str
    loads: tuple[LoadRow, ...]
    waits_for: tuple[Missing, ...]
    times: tuple[LineTimes, ...]
    chosen: str
    begun: bool
    owners: tuple[tuple[str, str], ...]
    left_out: str = LEFT_OUT


class Judged:
    """The findings of traffic, to be looked up by what they are about."""

    def __init__(self, project: Project) -> None:
        self._by_subject: dict[tuple[str, Path, str, str], Finding] = {}
        self._counting: dict[tuple[Path, str], list[Finding]] = {}
        self.of_line: dict[str, list[Finding]] = {}
        self.all = project.answers.marked_traffic(project.vehicle)
        for finding in self.all:
            reading = finding.reading
            self._by_subject[finding.rule, reading.subject, reading.line, part_of(finding)] = finding
            if reading.weight is Weight.GOVERNS and not finding.accepted:
                for subject in (reading.subject, *reading.also):
                    self._counting.setdefault((subject, reading.line), []).append(finding)
                self.of_line.setdefault(reading.line, []).append(finding)

    def key(self, rule: str, subject: Path, line: str = "", part: str = "") -> str:
        """The key of a finding, which its figure can be asked why by; empty where there is none with a figure."""
        finding = self._by_subject.get((rule, subject, line, part))
        return key_of(finding) if finding is not None and finding.reading.value is not None else ""

    def verdict(self, subject: Path, *lines: str, part: str | None = None) -> str:
        """The worst that counts about a subject on these lines, or about one of its parts and its whole."""
        found = (finding for line in lines for finding in self._counting.get((subject, line), ()))
        return worst(tuple(each for each in found if part is None or part_of(each) in ("", part))).value


def messages_page(project: Project, line: str = "") -> MessagesPage:
    """Every line's load, and the times of one line, of ``EVERY`` one, or of the one that is worst."""
    vehicle, traffic = project.vehicle, project.answers.traffic(project.vehicle)
    judged = Judged(project)
    speaking = [name for name in vehicle.lines if traffic.on(name)]
    if line != EVERY and line not in vehicle.lines:
        line = _worst_line(speaking or list(vehicle.lines), judged)
    solved = {name: answer.value for name, answer in traffic.loads.items() if not isinstance(answer, Blocked)}
    limits = {
        str(finding.reading.subject[1]): finding.reading.limit.value
        for finding in judged.all
        if finding.rule == "line-load"
    }
    blocked = [path for answer in traffic.loads.values() if isinstance(answer, Blocked) for path in answer.by]
    blocked += [path for answer in traffic.responses.values() if isinstance(answer, Blocked) for path in answer.by]
    return MessagesPage(
        load_bars(
            vehicle,
            {name: solved[name] for name in speaking if name in solved},
            limits,
            judged.all,
            standalone=False,
            width=PAGE_PX,
        )
        if any(name in solved for name in speaking)
        else "",
        tuple(_load_row(vehicle, name, traffic, judged, limits.get(name)) for name in vehicle.lines),
        missing(blocked),
        tuple(_times(vehicle, name, traffic, judged) for name in vehicle.lines if line in (EVERY, name)),
        line,
        has_messages(vehicle),
        owners(vehicle),
    )


def has_messages(vehicle: Vehicle) -> bool:
    """Whether anything is written down of what is said."""
    return any(messages.messages for messages in vehicle.messages.values())


def owners(vehicle: Vehicle) -> tuple[tuple[str, str], ...]:
    """What a new message can be added to: the sets there are, and every port that has none yet."""
    sets = tuple((name, messages.title or name) for name, messages in vehicle.messages.items())
    told = {messages.sender for messages in vehicle.messages.values()}
    ports = (f"{name}.{port}" for name, component in vehicle.components.items() for port in component.ports)
    return (*sets, *((port, f"{port} (its first)") for port in ports if port not in told))


def missing(paths: Iterable[Path]) -> tuple[Missing, ...]:
    """Facts that answers wait for, each once."""
    found = []
    for path in dict.fromkeys(paths):
        question, where = path_question(path)
        found.append(Missing(path_text(path), path_words(path), question, where))
    return tuple(found)


def _worst_line(names: list[str], judged: Judged) -> str:
    """The line with most that is broken, then most that is unknown or tight; the first of equals."""

    def rank(name: str) -> tuple[int, ...]:
        verdicts = [finding.verdict for finding in judged.of_line.get(name, ())]
        return tuple(-verdicts.count(verdict) for verdict in (Verdict.BROKEN, Verdict.UNKNOWN, Verdict.TIGHT))

    return min(names, key=rank, default="")


def _load_row(vehicle: Vehicle, name: str, traffic: Traffic, judged: Judged, limit: float | None) -> LoadRow:
    path: Path = ("lines", name)
    answer, responses = traffic.loads[name], traffic.responses[name]
    late = "?"
    if not isinstance(responses, Blocked):
        rows = responses.value.responses
        late = bare(min(each.slack_s for each in rows), Kind.TIME, "ms") if rows else ""
    if isinstance(answer, Blocked):
        state, mean, at_most, senders = "", "?", "?", ""
        least = least_load(speech_of(vehicle), name, traffic.on(name))
        if least is not None:
            state, mean = least[0].state, f"≥ {bare(least[0].mean, Kind.RATIO, '%')}"
    else:
        fullest = answer.value.fullest
        state, mean = fullest.state, bare(fullest.mean, Kind.RATIO, "%")
        at_most = bare(max(each.worst for each in answer.value.states), Kind.RATIO, "%")
        senders = ", ".join(_component(vehicle, share.name) for share in fullest.senders[:2])
    return LoadRow(
        name,
        vehicle.lines[name].title or name,
        path_text(path),
        len({stream.message for stream in traffic.on(name)}),
        state,
        mean,
        judged.key("line-load", path, name),
        at_most,
        judged.key("line-overload", path, name),
        "" if limit is None else bare(limit, Kind.RATIO, "%"),
        late,
        worst(tuple(judged.of_line.get(name, ()))).value,
        senders,
    )


def _component(vehicle: Vehicle, port: str) -> str:
    name = port.partition(".")[0]
    return component_title(name, vehicle.components.get(name))


def _times(vehicle: Vehicle, name: str, traffic: Traffic, judged: Judged) -> LineTimes:
    load, answer = traffic.loads[name], traffic.responses[name]
    title, path = vehicle.lines[name].title or name, f"lines.{name}"
    if isinstance(answer, Blocked) or isinstance(load, Blocked):
        by = [p for each in (answer, load) if isinstance(each, Blocked) for p in each.by]
        return LineTimes(name, title, path, "", (), missing(by))
    rows = time_rows(vehicle, answer.value, load.value, judged)
    chart = ""
    if rows:
        own = tuple(finding for finding in judged.all if finding.reading.line == name)
        chart = timing_chart(vehicle, name, answer.value, load.value, own, standalone=False, width=PAGE_PX)
    return LineTimes(name, title, path, chart, rows, ())


def time_rows(vehicle: Vehicle, found: LineResponses, load: LineLoad, judged: Judged) -> tuple[TimeRow, ...]:
    """The rows of a line's table, in the order in which the wire prefers them."""
    shares = {share.name: share for state in load.states for share in state.streams}
    several = len(load.states) > 1
    return tuple(_time_row(vehicle, each, shares[each.stream.name], judged, several) for each in found.responses)


def _time_row(vehicle: Vehicle, each: Response, share: Share, judged: Judged, several: bool) -> TimeRow:
    stream = each.stream
    set_name, _, own = stream.message.partition(".")
    path: Path = ("messages", set_name, "messages", own)
    component = stream.sender.partition(".")[0]
    return TimeRow(
        path_text(stream.path),
        path_text(path) if stream.path != path else "",
        stream.message.replace(".", "/"),
        stream.part,
        title_of(vehicle, stream.message),
        identifier_text(stream.identifier, extended=stream.extended),
        stream.sender,
        component_title(component, vehicle.components.get(component)),
        stream.length,
        bare(stream.period_s, Kind.TIME, "ms"),
        stream.event,
        bare(each.best_s, Kind.TIME, "ms"),
        bare(each.here_s, Kind.TIME, "ms"),
        bare(each.due_s, Kind.TIME, "ms") if each.due_s else "",
        bare(each.wanted_s, Kind.TIME, "ms"),
        bare(each.slack_s, Kind.TIME, "ms"),
        "" if stream.event else bare(share.mean, Kind.RATIO, "%"),
        bare(share.worst, Kind.RATIO, "%"),
        each.state if several else "",
        judged.verdict(stream.path, stream.line, part=stream.part),
        judged.key("in-time", stream.path, stream.line, stream.part),
    )
