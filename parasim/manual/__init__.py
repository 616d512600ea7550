"""The manual: pages of prose in `pages`, and pages made from specs, documents and references as they are.

All of it is Markdown, to be read in a terminal as it stands.
"""

import re
from collections.abc import Callable
from difflib import get_close_matches
from importlib import resources

from parasim.errors import OptionError, plain
from parasim.manual.json_keys import json_page
from parasim.manual.keys import keys_page, notes_page
from parasim.manual.schema import schema_text
from parasim.manual.sources import sources_page

PAGES = {
    "flight": "from the glide to the landing: glide, drop, drag, servo, turn, flare, landing, trouble",
    "learn": "the calibration from your own flights, and what to measure next",
    "scatter": "where thousands of drops come down",
    "sewing": "what to buy and cut, and from cut cloth to the first drop",
    "search": "what if, and what is best: sweeps and searches",
    "logs": "logged flights: what is read, the heads of a CSV log, segments to correct, notes",
    "commands": "every command with an example, exit codes",
    "design": "the design file, an example",
    "wind": "wind over height, gusts, turbulence",
    "files": "what each command writes, and the columns of the CSV files",
    "trust": "how far to trust it: what was checked, and how it came out",
    "physics": "what it rests on, and why: models, with their sources",
    "speed": "how quick it is, and where that was measured",
    "changes": "changes that moved a prediction",
    "words": "terms, in a line each",
}
"""Pages of prose and what they hold."""

MADE: dict[str, tuple[str, Callable[[str], str]]] = {
    "keys": ("every key of the design file, its limits and its meaning; or those of one part", keys_page),
    "notes": ("every key of a notes file, what was flown, for parasim learn", notes_page),
    "json": ("keys of the JSON documents of all commands, or of one", json_page),
    "sources": ("what an answer rests on: the sources of one command, or all", sources_page),
}
"""Pages in parts, made from the program itself: what they hold, and how they are made of a part's name."""

SCHEMA = "schema"


def topics() -> dict[str, str]:
    """Topics and what they hold, in the order of reading."""
    made = {name: words for name, (words, _) in MADE.items()}
    return {**PAGES, **made, SCHEMA: "JSON Schema of the design file, for editors"}


def page(topic: str, part: str = "") -> str:
    """A page as Markdown, or JSON for the schema.

    Parameters
    ----------
    topic : str
        One of `topics`, or a term of the glossary.
    part : str
        Of the page: the beginning of keys, or a command; all of it if empty.

    Raises
    ------
    OptionError
        If there is no such topic or part.
    """
    if topic in MADE:
        return MADE[topic][1](part)
    if topic not in topics():
        return terms(f"{topic} {part}".rstrip())
    if part:
        raise OptionError(f'PART: given "{plain(part)[:60]}"; the page {topic} has no parts, leave it out')
    if topic == SCHEMA:
        return schema_text()
    return _prose(topic)


def _prose(topic: str) -> str:
    text = resources.files("parasim.manual").joinpath(f"pages/{topic}.md").read_text(encoding="utf-8")
    return "\n".join(line for line in text.splitlines() if not line.startswith("<!-- "))


def terms(word: str) -> str:
    """Entries of the glossary whose term holds a word, and the pages on which it stands most often.

    Raises
    ------
    OptionError
        If no term holds it.
    """
    whole = re.compile(rf"\b{re.escape(word)}", re.IGNORECASE)
    entries = _prose("words").split("\n- ")[1:]
    found = [f"- {entry.rstrip()}" for entry in entries if whole.search(entry.partition("**:")[0])]
    if not found:
        close = get_close_matches(word.lower(), topics(), n=1)
        hint = f"did you mean {close[0]}? Use" if close else "use"
        given = f'TOPIC: given "{plain(word)[:60]}", not a topic and no term'
        raise OptionError(f"{given}; {hint} {', '.join(topics())}")
    counts = {name: len(whole.findall(_prose(name))) for name in PAGES if name != "words"}
    most = sorted((name for name, count in counts.items() if count), key=lambda name: -counts[name])
    more = [f"More of it: {', '.join(f'parasim manual {name}' for name in most[:3])}"] if most else []
    return "\n".join(found + more)


def contents() -> str:
    """The list of topics."""
    rows = "\n".join(f"| `parasim manual {name}` | {words} |" for name, words in topics().items())
    table = f"| page | what it holds |\n| --- | --- |\n{rows}\n"
    return f"# Manual of parasim\n\n{table}\nOr a term: `parasim manual stall`.\n"
