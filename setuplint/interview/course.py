"""The course of an interview: what the replies so far mean, and what is asked next."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from setuplint.dataclass import dataclass, field
from setuplint.interview.data import FilePiece, Interview, Question, interview
from setuplint.interview.functions import FUNCTIONS
from setuplint.interview.replies import Misread, answer, complaint
from setuplint.interview.terms import Tree, holds, value


@dataclass(slots=True)
class Step:
    """A question as it is asked: `key` names its reply, `item` is what it is asked of. `answer` is what its reply means, or
    the default where there is none; `complaint` says why a reply is no answer."""

    question: Question
    key: str
    item: Any
    text: str
    default: Any
    reply: str | None
    answer: Any = None
    complaint: str = ""


@dataclass(slots=True)
class Course:
    """What was asked so far, and the question that waits for a reply; None where all are answered."""

    steps: list[Step] = field(default_factory=list)
    next: Step | None = None
    answers: dict[str, Any] = field(default_factory=dict)

    @property
    def asked(self) -> frozenset[str]:
        return frozenset(step.key for step in self.steps)


class CourseNames:
    """What a term can name: what is being asked of, an answer, a value of `pieces.toml`; anything else is not known. Values
    are remembered until an answer changes."""

    def __init__(self, data: Interview, answers: dict[str, Any]) -> None:
        self.data, self.answers = data, answers
        self._values: dict[str, Any] = {}
        self.functions: dict[str, Callable[..., Any]] = {
            **FUNCTIONS,
            **{name: self._function(name) for name in data.functions},
        }

    def look_up(self, name: str, own: Mapping[str, Any] = {}) -> Any:
        if name in own:
            return own[name]
        if name in self.answers:
            return self.answers[name]
        if name in self.data.values:
            if name not in self._values:
                self._values[name] = self.worth(self.data.values[name])
            return self._values[name]
        return "\n" if name == "newline" else None

    def worth(self, tree: Tree, own: Mapping[str, Any] | None = None) -> Any:
        """What a term comes to, with names of its own."""
        local = own or {}
        return value(tree, lambda name: self.look_up(name, local), self.functions)

    def keep(self, question: Question, item: Any, what: Any) -> None:
        """An answer, or what an item of it was answered."""
        if item is None:
            self.answers[question.key] = what
        else:
            self.answers[question.key][item] = what
        self._values.clear()

    def _function(self, name: str) -> Callable[..., Any]:
        takes, tree = self.data.functions[name]
        return lambda *given: self.worth(tree, dict(zip(takes, given, strict=True)))


def course(replies: Mapping[str, str], *, asking: bool, suggested: Mapping[str, str] | None = None) -> Course:
    """The course of these replies, by the keys of the questions. `asking`: it stops at the first question without a reply, or
    with one that is no answer; else the default stands for it. `suggested` are defaults by a question's key."""
    data = interview()
    found = Course()
    names = CourseNames(data, found.answers)
    for question in data.questions:
        items = [None] if question.each is None else names.worth(question.each) or []
        if question.each is not None:
            names.keep(question, None, {})
        for item in items:
            own = {"each": item}
            if question.when is not None and not holds(names.worth(question.when, own)):
                continue
            step = _step(names, question, item, replies, suggested or {})
            if asking and (step.reply is None or step.complaint):
                found.next = step
                return found
            found.steps.append(step)
    return found


def _step(
    names: CourseNames, question: Question, item: Any, replies: Mapping[str, str], suggested: Mapping[str, str]
) -> Step:
    own = {"each": item}
    key = question.key if item is None else f"{question.key} {item}"
    default = names.worth(question.default, own) if question.default is not None else None
    default = suggested.get(question.key, default)
    step = Step(question, key, item, str(names.worth(question.ask, own)), default, replies.get(key))
    try:
        step.answer = _answer_of(names, step)
    except Misread as misread:
        step.complaint = str(misread)
        return step
    names.keep(question, item, step.answer)
    for test, words in question.refuse:
        if holds(names.worth(test, own)):
            step.complaint = str(names.worth(words, own))
            names.keep(question, item, None)
            step.answer = None
            break
    return step


def _answer_of(names: CourseNames, step: Step) -> Any:
    if step.reply is None or not step.reply.strip():
        if step.question.needed and step.reply is not None:
            raise Misread(complaint(names.data, "needed"))
        return step.default
    channels = names.look_up("channels") if step.question.reader == "places" else []
    found = answer(names.data, step.question, step.reply, channels)
    if found is None and step.question.needed:
        raise Misread(complaint(names.data, "needed"))
    return step.default if found is None else found


def setup_text(course: Course) -> str:
    """The whole file."""
    names = CourseNames(interview(), course.answers)
    return "\n".join(text for piece in interview().pieces for text in _texts(names, piece))


def _texts(names: CourseNames, piece: FilePiece) -> list[str]:
    items = [None] if piece.each is None else names.worth(piece.each) or []
    texts = []
    for item in items:
        own: dict[str, Any] = {"each": item}
        if piece.when is None or holds(names.worth(piece.when, own)):
            lines = [names.worth(line, own) if len(line) > 1 else "" for line in piece.lines]
            texts.append("".join(f"{line}\n" for line in lines if line is not None))
    return texts
