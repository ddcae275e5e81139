"""Texture from wetted soil in the hand, one question at a time.

The order of the questions is the flow diagram of S. J. Thien, "A flow diagram for teaching texture by feel analysis",
Journal of Agronomic Education 8:54-55, 1979, taken from later reprints of the diagram (the article itself was not
seen). The wording is our own. The diagram has no branch for silt, which it lets fall under silt loam, so eleven of
the twelve USDA classes can come out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from soakbook.errors import InputError


@dataclass(frozen=True)
class Answer:
    """One way to answer; ``leads_to`` is the id of the next question or of a texture class."""

    id: str
    text: str
    leads_to: str


@dataclass(frozen=True)
class Question:
    """What to do, what to ask, and the answers."""

    id: str
    do: str
    ask: str
    answers: tuple[Answer, ...]


def _rub(ribbon: str, gritty: str, smooth: str, neither: str) -> Question:
    return Question(
        f"rub_{ribbon}",
        "Put a pinch of the soil in your palm, make it runny with extra water and rub it with a fingertip.",
        "What do you feel most?",
        (
            Answer("gritty", "Clearly gritty, like sugar", gritty),
            Answer("smooth", "Clearly smooth, like wet flour", smooth),
            Answer("neither", "Neither stands out", neither),
        ),
    )


_START = "ball"
_QUESTIONS: dict[str, Question] = {
    q.id: q
    for q in (
        Question(
            "ball",
            "Take a spoonful of soil without stones and roots. Add water drop by drop and knead it until no crumbs are "
            "left and it works like putty. Then squeeze it in your fist.",
            "Does it stay together as a ball when you open your hand?",
            (
                Answer("ball", "Yes, it is a ball", "ribbon"),
                Answer("no_ball", "No, it falls apart or runs", "wetness"),
            ),
        ),
        Question(
            "wetness",
            "Look at the soil in your hand again.",
            "Why does it not hold?",
            (
                Answer("too_dry", "It is still crumbly and dry: I add a little water and knead again", "ball"),
                Answer("too_wet", "It is soup: I add a little dry soil and knead again", "ball"),
                Answer("never", "It is moist enough and still will not hold", "sand"),
            ),
        ),
        Question(
            "ribbon",
            "Push the ball between thumb and forefinger so that a flat ribbon grows over the finger, until it "
            "breaks off by its own weight.",
            "How long is the ribbon when it breaks?",
            (
                Answer("no_ribbon", "No ribbon forms at all", "loamy_sand"),
                Answer("short", "Shorter than 2.5 cm (1 inch)", "rub_short"),
                Answer("medium", "2.5 to 5 cm (1 to 2 inches)", "rub_medium"),
                Answer("long", "5 cm (2 inches) or longer", "rub_long"),
            ),
        ),
        _rub("short", "sandy_loam", "silt_loam", "loam"),
        _rub("medium", "sandy_clay_loam", "silty_clay_loam", "clay_loam"),
        _rub("long", "sandy_clay", "silty_clay", "clay"),
    )
}


def questions() -> tuple[Question, ...]:
    """All questions of the key, the first one first."""
    return tuple(_QUESTIONS.values())


def first_question() -> Question:
    """Where the key starts."""
    return _QUESTIONS[_START]


def follow(answers: Sequence[str]) -> Question | str:
    """The next question after these answers, or the texture class they lead to.

    Examples
    --------
    >>> follow(["ball"]).id
    'ribbon'
    >>> follow(["ball", "short", "neither"])
    'loam'
    """
    question = first_question()
    for position, given in enumerate(answers):
        leads_to = _leads_to(question, given)
        if leads_to in _QUESTIONS:
            question = _QUESTIONS[leads_to]
        elif position < len(answers) - 1:
            raise InputError(
                f"The answers already lead to {leads_to} after {position + 1} of {len(answers)}.",
                code="feel.too_many",
                field="feel",
                hint=f"Leave out {', '.join(answers[position + 1 :])}.",
            )
        else:
            return leads_to
    return question


def feel_class(answers: Sequence[str]) -> str:
    """The texture class of a finished row of answers; InputError when the key has not come to an end."""
    end = follow(answers)
    if isinstance(end, Question):
        choices = "; ".join(f"{a.id}: {a.text}" for a in end.answers)
        raise InputError(
            f"The feel answers stop before a soil is found (got {len(answers)}).",
            code="feel.unfinished",
            field="feel",
            hint=f"{end.do} {end.ask} {choices}.",
        )
    return end


def _leads_to(question: Question, given: str) -> str:
    for answer in question.answers:
        if answer.id == given:
            return answer.leads_to
    raise InputError(
        f"The answer to {question.ask!r} must be one of {', '.join(a.id for a in question.answers)} (got {given!r}).",
        code="feel.answer_unknown",
        field="feel",
        hint=question.do,
    )
