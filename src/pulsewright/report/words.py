"""Every text of the report. Plain English, the trade's words, short sentences.

The numbers behind the cautions are common practice, no published source, unless a source stands beside them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from pulsewright.figures.numbers import MINUS, number, per_cent, rpm, signed, span
from pulsewright.report.story import (
    Evidence,
    FitStory,
    Hole,
    Leanest,
    NextStep,
    SafetyNote,
    Story,
    Tried,
    Unexplained,
)

TEXT = {
    "title": "Dyno report",
    "invented": "Invented example. No such machine was on a dyno; all numbers here are made up.",
    "complaint_heading": "What you told us",
    "finding_heading": "What we found",
    "no_complaint": "No complaint was written down.",
    "picture_heading": "Before and after, where you ride",
    "picture_heading_one": "The torque curve, where you ride",
    "picture_heading_no_band": "Torque and mixture over engine speed",
    "no_hole": "No hole was found in the torque curve.",
    "no_curves": "There are no torque curves to show: no pull could be read.",
    "no_lambda": "There is no lambda channel in these pulls, so nothing here says whether the mixture is safe.",
    "how_to_read": "Thin lines were measured, thick lines are computed. Dashed is the machine before the change.",
    "table_caption": "Measured torque and lambda in numbers",
    "table_open": "The same in numbers",
    "cause_heading": "Why it happens",
    "meaning_heading": "What that means",
    "no_shares": "The loss was not split between causes.",
    "shares_heading": "How much each cause takes",
    "echo_heading": "The echo in your pipe",
    "no_echo": "No echo picture was drawn for this report.",
    "echo_how": "Orange is pressure above the air outside, blue is suction. Time runs down; the pipe is "
    "drawn to "
    "scale over the millimetre rule.",
    "fit_heading": "The model of your machine",
    "no_fit": "The model was not fitted to these pulls: it is the machine as the sheet describes it. Its curves may be "
    "15\u202f% off; trust shapes more than heights.",
    "mind_heading": "What would change our mind",
    "proof_heading": "How we know",
    "tried_heading": "What was tried, and what each change did",
    "nothing_tried": "Only the machine as it came was pulled. Nothing has been tried against it yet.",
    "evidence_heading": "What speaks for and against",
    "no_evidence": "There is no evidence beyond the curves themselves.",
    "next_heading": "What to try next",
    "no_next": "Nothing further is proposed.",
    "safety_heading": "Leanest point and safety",
    "no_leanest": "Lambda was not measured, so the leanest point is not known. Do not lean this engine "
    "further on "
    "these pulls alone.",
    "no_safety": "Nothing in these pulls crossed a safety limit. That is not proof that the engine is safe "
    "everywhere: only full throttle was measured.",
    "unknown_heading": "What we do not know",
    "no_unknowns": "No open question was noted. There is always one: ask.",
    "assumptions_heading": "Assumed, because it was not on the sheet",
    "no_assumptions": "Every value that the model needs was on the sheet.",
    "conditions_heading": "Conditions",
    "no_conditions": "The conditions of the pulls were not noted. Do not compare these curves with other days.",
    "cautions_heading": "Cautions and law",
    "interval_note": "In brackets: the range in which the change lies with 95\u202f% certainty, judged on "
    "whole pulls. "
    "Where it takes in zero, these pulls could not show a difference.",
    "expected": "Expected:",
    "footer": "Made with pulsewright. Computed curves come from a model of this machine; measured ones from "
    "the pulls "
    "named above.",
}

COLUMNS = {
    "setup": "Setup",
    "change": "Change",
    "band": "Torque in the riding band",
    "bottom": "At the old bottom",
    "lambda": "Lambda",
    "pulls": "Pulls",
}

# Hazards: common practice, no published source, except carbon monoxide in closed rooms, for which see
# Earnest et al. (1997), AIHA Journal 58(11) 787-791: a small engine fills a closed room within minutes.
CAUTIONS = (
    "Exhaust gas kills without a smell. Run the engine only with extraction at the pipe, fresh air coming "
    "in and a "
    "carbon monoxide alarm at head height; open doors and fans are not enough.",
    "Open pipes hurt ears within minutes. Wear plugs and muffs on the dyno, and mind the neighbours.",
    "Nobody stands behind or beside a turning wheel. Check straps, chock, tyre and chain before every pull.",
    "Keep face and hands away from the carburettor mouth: the fog there is fuel. Have an extinguisher in reach.",
    "Pipe, head and anything fitted to the pipe stay hot. Lock every bolt or plate: a lost one is a projectile.",
    "After any change that fills a hole, listen for knock and check lambda there again: the cylinder now "
    "fills "
    "better just where it used to be idle.",
    "Go leaner only in small steps with a lambda reading that can be trusted. Too lean at full throttle "
    "burns "
    "pistons and valves.",
)
LAW = (
    "Unless you have told us otherwise, treat these parts and settings as being for closed tracks or for "
    "machines "
    "that the rules do not cover. Changing or removing a muffler, or the mixture, can end the approval for "
    "the "
    "road and break noise and emission rules; owner and workshop can both be held liable. This is general "
    "information, not legal advice."
)

# The cause in plain words, for the person who pays.
CAUSES = {
    "exhaust wave": "Each time the exhaust valve opens, a pressure pulse runs down the pipe. The pipe end "
    "sends it "
    "back as an echo, and the echo runs to and fro until it dies away. At most speeds it does no harm, and "
    "at some "
    "it helps. Around the hole it reaches the valves as a push while both are open. It holds burned gas in "
    "the "
    "cylinder and pushes air back out through the carburettor, and air that passes the carburettor more "
    "than once "
    "picks up fuel each time. That is why an engine can feel weak and smell rich at the same speed. A "
    "smaller jet "
    "can trim the fuel, but it cannot stop the echo.",
    "intake wave": "Air in the intake runs in pulses too. Around this speed a wave in the intake arrives at "
    "the "
    "wrong moment and holds back part of the next charge. The pipe and the jets are not the first suspects.",
    "mixture rich": "The engine gets more fuel than it can burn, over a wide range of speed. Some of the "
    "torque is "
    "lost that way, and plugs and oil suffer. The exhaust is not the first suspect.",
    "mixture lean": "The engine gets too little fuel. That costs torque, and at full throttle it is dangerous.",
    "mixture": "The mixture is off where the torque is lost.",
    "fuel starvation": "Fuel does not reach the carburettor as fast as the engine uses it. The longer the "
    "pull, the "
    "leaner it gets.",
    "restriction": "Something in the flow path is too tight. The loss grows with engine speed and has no "
    "dip of its "
    "own.",
    "ignition": "The charge is there but does not burn as it should. Look at plug, coil, gap and advance "
    "before "
    "jets or pipes.",
    "engine": "The loss runs over all speeds and does not follow pipe or jets. Look at the engine itself: "
    "compression, valves, cam timing.",
    "measurement": "What looks like a fault comes from the measurement, not from the machine. Put that right "
    "first, before any money goes into parts.",
    "no hole": "The torque curve has no hole, and nothing in these pulls asks for a change.",
    "cannot tell": "These pulls do not tell the suspects apart. That is an answer too: the next test is "
    "chosen so "
    "that it will.",
}

BACK_PRESSURE = (
    "It is often said that an engine needs back pressure. A freer pipe does let the engine lose torque "
    "here, so the "
    "saying has seen something real; what changed is the echo. An open end sends back a stronger one. A "
    "bolt or "
    "a plate near the end weakens the echo and adds hardly any steady pressure."
)

FINDINGS = {
    "exhaust wave": "The hole{at} comes mainly from the echo in the exhaust pipe: look at the pipe first, jets later.",
    "intake wave": "The hole{at} comes mainly from a wave in the intake.",
    "mixture rich": "The engine runs too rich{at}: look at the jets first.",
    "mixture lean": "The engine runs too lean{at}: richen it before any further full-throttle pull.",
    "fuel starvation": "The engine runs short of fuel{at}: look at tap, lines and float before jets.",
    "restriction": "Something in the flow path is too tight{at}.",
    "ignition": "The loss{at} looks like spark: look at plug, coil and advance first.",
    "engine": "The loss{at} looks like the engine itself: check compression, valves and cam timing first.",
    "measurement": "What shows{at} comes from the measurement and not from the machine.",
    "no hole": "No hole was found, and nothing in these pulls asks for a change.",
    "cannot tell": "These pulls cannot tell what causes the loss{at}; the next test below will.",
}

LEVELS = {"red": "Stop", "amber": "Careful", "unknown": "Not known", "note": "Note"}


def finding(story: Story) -> str:
    """The finding as one sentence: the story's own, or one made from verdict and hole."""
    if story.finding.strip():
        return story.finding.strip()
    at = f" at {rpm(story.hole.rpm_bottom)}" if story.hole else ""
    pattern = FINDINGS.get(story.verdict, "Verdict: " + story.verdict.replace("{", "{{").replace("}", "}}") + ".")
    return pattern.format(at=at)


def confidence(value: float | None) -> str:
    """How sure the verdict is, in words and number."""
    if value is None:
        return ""
    degree = "very likely" if value >= 0.9 else "likely" if value >= 0.7 else "more likely than not"
    degree = degree if value >= 0.5 else "only a first guess"
    return f"We hold this finding to be {degree} ({per_cent(value)})."


def hole(found: Hole | None) -> str:
    """Where the hole is and how deep, or that there is none."""
    if found is None:
        return TEXT["no_hole"]
    depth = per_cent(found.depth)
    if found.depth_low is not None and found.depth_high is not None:
        depth += f" ({span(100 * found.depth_low, 100 * found.depth_high)}\u202f%)"
    text = (
        f"The hole runs from {number(round(found.rpm_from, -1))} to {rpm(found.rpm_to)} with its bottom at "
        f"{rpm(found.rpm_bottom)}. There the torque is {depth} below the lower of the two shoulders."
    )
    return text if found.repeats else text + " It did not come back in every pull."


def cause(verdict: str) -> str:
    """The cause in plain words."""
    return CAUSES.get(verdict, "")


def shares(story: Story) -> str:
    """What the bars mean."""
    where = f" at {rpm(story.shares_rpm)}" if story.shares_rpm else ""
    return (
        f"In the model we took the causes away one after the other{where}, in every order, and looked how much torque "
        "came back each time. A bar is a cause's part of all that came back; together they make 100\u202f%. "
        "The thin mark on each bar is the range in which the share lies in 8 of 10 cases."
    )


def unexplained(part: Unexplained | None) -> str:
    """What the model does not account for."""
    if part is None:
        return ""
    if abs(part.share) < 0.1:
        return "The model accounts for nearly all of the measured loss."
    if part.share < 0.0:
        return (
            f"The model loses more there than was measured, by {per_cent(-part.share)} of the measured loss. "
            "The shares are parts of the model's loss, so read them with that in mind."
        )
    ends = ""
    if part.low is not None and part.high is not None and part.fitted:
        ends = f" ({span(100 * part.low, 100 * part.high)}\u202f%)"
    text = f"Beside these shares, {per_cent(part.share)}{ends} of the measured loss is not explained by the model."
    if part.share < 0.2:
        return text
    if part.fitted:
        return f"{text} Look for it in spark, engine and measurement, or in what no model of this kind has."
    return (
        f"{text} The model is not fitted to this machine, so part of that is its own; what stays after a fit is for "
        "spark, engine and measurement."
    )


def fit(told: FitStory | None) -> str:
    """How well the model follows the pulls."""
    if told is None:
        return TEXT["no_fit"]
    torque = [row.torque_percent for row in told.setups]
    mixture = [row.lambda_ for row in told.setups if row.lambda_ is not None]
    whom = f"all {len(told.setups)} setups at once" if len(told.setups) > 1 else "the pulls"
    lies = f"It now lies {_range(torque, 1)}\u202f% from the measured torque"
    lies += f" and {_range(mixture, 2)} from the measured lambda" if mixture else ""
    return (
        "What the sheet cannot know (friction, burn, heat in the pipe, what the jets really flow) was adjusted until "
        f"the model followed {whom}. {lies} (root mean square). These pulls leave more than one machine possible: "
        f"{told.draws} of them were asked, and the intervals show how far they disagree."
    )


def _range(values: list[float], digits: int) -> str:
    low, high = number(min(values), digits), number(max(values), digits)
    return low if low == high else f"{low} to {high}"


def learned(told: FitStory) -> str:
    """What the pulls told about the machine, and what they did not."""
    parts = [f"The pulls tell: {', '.join(told.learned)}."] if told.learned else []
    parts += [f"They do not tell: {', '.join(told.open)}; these stay as assumed."] if told.open else []
    return " ".join(parts)


def tried_band(row: Tried) -> str:
    """Change of torque in the riding band with its interval, and whether the pulls could show one."""
    if row.band_percent is None:
        return "not measured"
    text = f"{signed(row.band_percent, 1)}\u202f%"
    if row.low is None or row.high is None:
        return text + ", no interval"
    return f"{text} ({_signed_span(row.low, row.high)})"


def tried_verdict(row: Tried) -> str:
    """The row in a word or two."""
    if row.band_percent is None or row.low is None or row.high is None:
        return "not known"
    if row.low > 0.0:
        return "better"
    return "worse" if row.high < 0.0 else "no difference that these pulls could show"


def _signed_span(low: float, high: float) -> str:
    return f"{signed(low, 1)} to {signed(high, 1)}"


def tried_bottom(row: Tried) -> str:
    """Change of torque at the old bottom of the hole."""
    return "not measured" if row.bottom_percent is None else f"{signed(row.bottom_percent, 1)}\u202f%"


def tried_lambda(row: Tried) -> str:
    """Change of lambda, with the direction in words."""
    if row.lambda_change is None:
        return "not measured"
    way = "leaner" if row.lambda_change > 0.004 else "richer" if row.lambda_change < -0.004 else "as before"
    return f"{signed(row.lambda_change, 2)} ({way})"


def leanest(point: Leanest | None) -> str:
    """The leanest point at full throttle against its limit."""
    if point is None:
        return TEXT["no_leanest"]
    text = f"The leanest point at full throttle was lambda {number(point.value, 2)} at {rpm(point.rpm)}"
    text += f" with setup {point.setup}." if point.setup else "."
    if point.limit is not None:
        side = "leaner than" if point.value > point.limit else "on the rich side of"
        text += f" That is {side} the limit of {number(point.limit, 2)} used here."
    if not point.trustworthy:
        text += " Outside air may have reached the sensor, so this reading proves neither safe nor unsafe."
    return f"{text} {point.note}".strip()


def weight(value: float | None) -> str:
    """The weight of evidence in words."""
    if value is None:
        return ""
    size = abs(value)
    return "strong" if size >= 1.5 else "fair" if size >= 0.7 else "slight"


def speaks(item: Evidence) -> str:
    """For and against what the evidence speaks, and how strongly."""
    sides = [f"speaks for {item.supports}"] if item.supports else []
    sides += [f"against {item.against}" if sides else f"speaks against {item.against}"] if item.against else []
    strength = weight(item.weight)
    return ", ".join([*sides, *([strength] if strength else [])])


def next_details(step: NextStep) -> str:
    """What the step tells apart and how long it takes."""
    parts = [f"Tells apart: {', '.join(step.tells_apart)}."] if step.tells_apart else []
    parts += [f"About {number(step.minutes)} minutes."] if step.minutes else []
    return " ".join(parts)


def safety_place(note: SafetyNote) -> str:
    """Where it was seen, to follow the note."""
    places = [f"setup {note.setup}"] if note.setup else []
    places += [rpm(note.rpm)] if note.rpm is not None else []
    return f" ({', '.join(places)})" if places else ""


def level(name: str) -> str:
    """The heading word of a safety note."""
    return LEVELS.get(name, LEVELS["note"])


@dataclass(frozen=True)
class Words:
    """What the template sees of this file."""

    text: dict[str, str] = field(default_factory=lambda: TEXT)
    columns: dict[str, str] = field(default_factory=lambda: COLUMNS)
    cautions: tuple[str, ...] = CAUTIONS
    law: str = LAW
    back_pressure: str = BACK_PRESSURE
    minus: str = MINUS
