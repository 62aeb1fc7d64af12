"""The pages of docs/reference that are written from the knowledge files, for brewers to read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.checks import WITHOUT_PUBLICATION
from trubshoot.knowledge_base.schema import Cause, Condition, Finding, RuleSpec, Source
from trubshoot.knowledge_base.tables import Row

HOW_OFTEN = {  # the words of docs/how_to/add_a_cause.md, each down to about half way to the next
    0.83: "nearly always",
    0.63: "usually",
    0.37: "often",
    0.17: "sometimes",
    0.07: "seldom",
    0.0: "hardly ever",
}
PROMISES = ("fine", "safe", "harmless")  # a brewer's own words; out of place on a page
SHOWN_WORDS = 8
STAGES = (
    ("brewing", "While brewing"),
    ("fermenting", "While it ferments"),
    ("bottled", "Once bottled"),
    ("serving", "When serving"),
    ("any", "At any time"),
)
SIGNS = {"gt": "above", "gte": "at least", "lt": "below", "lte": "at most", "eq": "exactly"}
CONCLUSIONS = {
    "finding": "The finding",
    "no_finding": "Not the finding",
    "context": "The circumstance",
    "rules_out": "Rules out",
    "hazard": "HAZARD",
    "marker": "For other rules",
    "hold": "HOLD, do not bottle",
    "permit": "Permits",
}
GROUPS = (
    ("hazard", "Hazards"),
    ("hold", "Reasons not to bottle yet"),
    ("permit", "Permission to bottle"),
    ("finding", "Findings"),
    ("no_finding", "Findings that are not there"),
    ("rules_out", "Causes ruled out"),
    ("context", "Circumstances"),
    ("marker", "Steps in between"),
)


ADVICE_STAGES = (
    ("brewing", "While brewing: "),
    ("fermenting", "In the fermenter: "),
    ("bottled", "In the bottle: "),
    ("any", ""),
)


def one_line(text: str) -> str:
    """Return text as one line that no table or mark-up breaks."""
    return " ".join(text.split()).replace("|", "\\|").replace("<", "&lt;")


def how_often(strength: float) -> str:
    """Return a strength as a word."""
    return next(word for least, word in HOW_OFTEN.items() if strength >= least)


def cited(keys: Iterable[str]) -> str:
    """Return sources as links to their page; what is no publication stands as it is."""
    shown = [
        key if key in WITHOUT_PUBLICATION else f"[{key}](sources.md#{key.lower()})" for key in keys
    ]
    return ", ".join(shown) or "none; see the basis"


def steps_list(title: str, steps: Sequence[str]) -> list[str]:
    """Return a short list with its title; nothing when it is empty."""
    if not steps:
        return []
    return [f"*{title}:*", "", *(f"{n}. {one_line(step)}" for n, step in enumerate(steps, 1)), ""]


def causes(knowledge: KnowledgeBase, notice: str) -> str:
    """Return docs/reference/causes.md: every cause, by the step of the brew it belongs to."""
    lines = [
        "# Causes",
        "",
        notice,
        "",
        "Everything that trubshoot can name as a cause, in the order of a brew, faults and what is",
        "quite normal alike. *How common* is the chance before anything is known of a batch, and",
        "how often a cause makes a finding is meant for that cause acting alone. Most of these",
        "numbers are judgement; the basis says which. While bottles may hold too much pressure,",
        "the hazard block goes before anything said here.",
        "",
    ]
    groups = [
        (step, [cause for cause in knowledge.causes.values() if cause.step == step.id])
        for step in knowledge.steps.values()
    ]
    for step, members in groups:
        if members:
            links = ", ".join(f"[{one_line(item.label)}](#{item.id})" for item in members)
            lines.append(f"- **{step.label}**: {links}")
    for step, members in groups:
        if members:
            lines += ["", f"## Step: {step.label}", "", one_line(step.what)]
        for cause in members:
            lines += ["", *_cause(knowledge, cause)]
    return "\n".join(lines).rstrip() + "\n"


def _cause(knowledge: KnowledgeBase, cause: Cause) -> Iterator[str]:
    kinds = {"fault": "a fault", "normal": "normal", "measurement": "a matter of measuring"}
    yield from [f"### {cause.id}", "", f"**{one_line(cause.label)}** ({kinds[cause.kind]})", ""]
    if cause.doubt:
        yield from [f"*Doubtful:* {one_line(cause.doubt)}", ""]
    yield from [one_line(cause.mechanism), ""]
    yield from [f"*How common:* about {100 * cause.prior:.2g} in 100 batches with trouble.", ""]
    found = sorted(cause.links, key=lambda link: -link.strength)
    shown = [
        f"[{one_line(knowledge.findings[link.finding].label)}](findings.md#{link.finding}) "
        f"({how_often(link.strength)})"
        for link in found
    ]
    yield from [f"*Makes you notice:* {'; '.join(shown)}.", ""]
    for title, likelier in (("Likelier", True), ("Less likely", False)):
        names = [
            knowledge.contexts[item.when].label[:1].lower()
            + knowledge.contexts[item.when].label[1:]
            for item in cause.modifiers
            if (item.odds > 1) is likelier
        ]
        if names:
            yield from [f"*{title} with:* {one_line('; '.join(names))}.", ""]
    yield from [f"*To confirm:* {one_line(cause.confirm.do)}", ""]
    yield from [f"*To rule out:* {one_line(cause.rule_out)}", ""]
    for stage, title in STAGES:
        yield from steps_list(title, [step.do for step in getattr(cause.now, stage)])
    if cause.avoid:
        yield from ["*Do not:*", ""]
        yield from (f"- {one_line(item.dont)} {one_line(item.why)}" for item in cause.avoid)
        yield ""
    for title, texts in (("Stop trying", cause.stop), ("What it costs", cause.cost)):
        parts = [
            f"{shown}{one_line(getattr(texts, stage))}"
            for stage, shown in ADVICE_STAGES
            if getattr(texts, stage)
        ]
        yield from [f"*{title}:* {' '.join(parts)}", ""]
    yield from [f"*Next time:* {one_line(cause.next_time)}", ""]
    if cause.caution:
        yield from [f"*Caution:* {one_line(cause.caution)}", ""]
    yield f"*Sources:* {cited(cause.sources)}. *Basis:* {one_line(cause.basis)}"


def findings(knowledge: KnowledgeBase, notice: str) -> str:
    """Return docs/reference/findings.md: every finding, with how to look and what makes it."""
    lines = [
        "# Findings",
        "",
        notice,
        "",
        "What a brewer can notice: the words for it, how to make sure, and which causes make it,",
        "the most frequent first. Words not listed are not understood.",
    ]
    makers: dict[str, list[tuple[float, str]]] = {name: [] for name in knowledge.findings}
    for cause in knowledge.causes.values():
        for link in cause.links:
            makers[link.finding].append((link.strength, cause.id))
    for finding in sorted(knowledge.findings.values(), key=lambda item: item.label.lower()):
        lines += ["", *_finding(knowledge, finding, makers[finding.id])]
    return "\n".join(lines).rstrip() + "\n"


def _finding(
    knowledge: KnowledgeBase, finding: Finding, makers: list[tuple[float, str]]
) -> Iterator[str]:
    yield from [f"## {finding.id}", "", f"**{one_line(finding.label)}**", ""]
    if finding.term:
        yield from [f"*Standard term:* {one_line(finding.term)}.", ""]
    stages = ", ".join(stage.replace("_", " ") for stage in finding.stages)
    yield from [f"*Seen during:* {stages}.", ""]
    if finding.threshold:
        yield from [f"*Threshold:* {one_line(finding.threshold)}", ""]
    minutes = f"{finding.check.minutes:g} min"
    by = finding.check.by.replace("_", " ")
    yield from [f"*How to look:* {one_line(finding.check.how)} ({by}, {minutes})", ""]
    plain = [alias for alias in finding.aliases if not set(PROMISES) & set(alias.split())]
    words = "; ".join(f'"{one_line(alias)}"' for alias in plain[:SHOWN_WORDS])
    if words:
        yield from [f"*In words such as:* {words}.", ""]
    if finding.confused_with:
        alike = [f"[{knowledge.findings[n].label}](#{n})" for n in finding.confused_with]
        yield from [f"*Easily confused with:* {'; '.join(alike)}.", ""]
    shown = [
        f"[{one_line(knowledge.causes[name].label)}](causes.md#{name}) ({how_often(strength)})"
        for strength, name in sorted(makers, key=lambda item: -item[0])
    ]
    yield from [f"*Made by:* {'; '.join(shown)}.", ""]
    yield f"*Sources:* {cited(finding.sources)}. *Basis:* {one_line(finding.basis)}"


def rules(knowledge: KnowledgeBase, notice: str) -> str:
    """Return docs/reference/rules.md: every rule in plain words, by what it concludes."""
    lines = [
        "# Rules",
        "",
        notice,
        "",
        "What trubshoot concludes from a log, and from what. A condition on something that the log",
        "does not state never holds: unknown is not absent. *Unless* means: not known to be so.",
        "*As far as it goes* marks a soft finding, with its chance when the finding is so and when",
        "it is not. Words in braces are filled in with the numbers of the batch.",
    ]
    for kind, title in GROUPS:
        members = [spec for spec in knowledge.rules.values() if spec.then.kind == kind]
        if members:
            lines += ["", f"## {title}"]
        for spec in members:
            lines += ["", *_rule(knowledge, spec)]
    return "\n".join(lines).rstrip() + "\n"


def _rule(knowledge: KnowledgeBase, spec: RuleSpec) -> Iterator[str]:
    yield from [f"### {spec.id}", "", f"**{one_line(spec.title)}**", ""]
    for section, lead in (("all", "When"), ("any", "and one of these"), ("none", "Unless")):
        told = [in_words(knowledge, item) for item in getattr(spec.when, section)]
        if told:
            if section == "any" and not spec.when.all:
                lead = "When one of these holds"
            lead = lead[:1].upper() + lead[1:]
            yield from [f"*{lead}:*", "", *(f"- {one_line(item)}" for item in told), ""]
    soft = spec.then.told
    mark = f", as far as it goes ({soft.so:g} against {soft.not_so:g})" if soft else ""
    target = label_of(knowledge, spec.then.kind, spec.then.target)
    yield from [f"*Then:* {CONCLUSIONS[spec.then.kind]}: {one_line(target)}{mark}.", ""]
    yield from [f"*Because:* {one_line(spec.because)}", ""]
    if spec.why:
        yield from [f"*Why:* {one_line(spec.why)}", ""]
    yield f"*Sources:* {cited(spec.sources)}. *Basis:* {one_line(spec.basis)}"


def label_of(knowledge: KnowledgeBase, kind: str, target: str) -> str:
    """Return what a conclusion is called."""
    if kind in ("finding", "no_finding"):
        return f"[{knowledge.findings[target].label}](findings.md#{target})"
    if kind == "rules_out":
        return f"[{knowledge.causes[target].label}](causes.md#{target})"
    if kind == "context":
        return knowledge.contexts[target].label
    if kind == "hazard":
        return knowledge.hazards[target].hazard
    if kind == "hold":
        return knowledge.holds[target].label
    return target.replace("_", " ")


def in_words(knowledge: KnowledgeBase, condition: Condition) -> str:
    """Return one condition as a brewer would say it."""
    name = condition.fact
    prefix, _, target = name.partition(".")
    unit = ""
    if name in knowledge.facts:
        fact = knowledge.facts[name]
        what = f"{fact.meaning} (`{name}`)"
        unit = "" if fact.unit in ("1", "count", "") else f" {fact.unit}"
    elif prefix == "said":
        table = knowledge.findings if target in knowledge.findings else knowledge.signs
        what = f'said: "{table[target].label}"'  # type: ignore[index]
    else:
        kinds = {"finding": "finding", "absence": "no_finding", "context": "context"}
        what = f"concluded: {label_of(knowledge, kinds.get(prefix, 'marker'), target)}"
        what += " is not there" if prefix == "absence" else ""
    parts = []
    for operator, value in condition.tests():
        if operator == "is":
            parts.append("" if value == "present" else f"stated to be {value}")
        elif operator == "in" and condition.in_ is not None:
            parts.append(" or ".join(text.replace("_", " ") for text in condition.in_))
        else:
            parts.append(f"{SIGNS[operator]} {value:g}{unit}")
    told = " and ".join(part for part in parts if part)
    return f"{what}: {told}" if told else what


def sources(knowledge: KnowledgeBase, notice: str) -> str:
    """Return docs/reference/sources.md: every publication, how far read, what rests on it."""
    users: dict[str, list[str]] = {key: [] for key in knowledge.sources}
    pages = (("causes", knowledge.causes), ("findings", knowledge.findings))
    for page, table in (*pages, ("rules", knowledge.rules)):
        for name, entry in table.items():  # type: ignore[attr-defined]
            for key in dict.fromkeys(entry.sources):
                if key in users:
                    users[key].append(f"[{name}]({page}.md#{name})")
    others: dict[str, dict[str, Row]] = {
        "yeast classes": dict(knowledge.yeast_classes),
        "sugars": dict(knowledge.sugars),
        "fermentables": dict(knowledge.fermentables),
        "bottles": dict(knowledge.bottles),
        "sanitizers": dict(knowledge.sanitizers),
    }
    plain = {
        "hazards": knowledge.hazards,
        "holds": knowledge.holds,
        "constants": knowledge.constants,
        **others,
    }
    for title, entries in plain.items():
        for name, entry in entries.items():  # type: ignore[attr-defined]
            for key in dict.fromkeys(entry.sources):
                if key in users:
                    users[key].append(f"{title}: {name}")
    for checklist in knowledge.checklists.values():
        for key in dict.fromkeys(key for item in checklist.items for key in item.sources):
            if key in users:
                users[key].append(f"checklists: {checklist.id}")
    lines = [
        "# Sources",
        "",
        notice,
        "",
        "*read* means that what is cited was read in the source, to the extent named; *memory*",
        "that it is known but was not read for this. Beside publications the knowledge says",
        "`common practice`, `from memory` or `judgement`; none is ever turned into another.",
    ]
    for key in sorted(knowledge.sources, key=str.lower):
        lines += ["", *_source(key, knowledge.sources[key], users[key])]
    return "\n".join(lines).rstrip() + "\n"


def _source(key: str, source: Source, users: list[str]) -> Iterator[str]:
    yield from [f"## {key}", "", one_line(source.citation), ""]
    extent = f"; {one_line(source.extent)}" if source.extent else ""
    yield from [f"*How far:* {source.basis}{extent}", ""]
    yield f"*Used by:* {', '.join(users) or 'nothing'}."
