"""The field's terms, and only these: old words of ours do not come back."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

OLD = {
    "hands[- _]up": "brakes released",
    "reckon(ed|ing|s)?": "assumed, estimated, included",
    "noughts?": "zero",
    "told|tells?": "given, reported, shown",
    "wants": "needs",
    "mak(es|e|ing) way": "makes headway",
    "stands? in for": "overrides",
    "below the release": "under the release",
    "dies out|die out": "decays",
    "nos(es|ed) under|nose under": "tucks",
    "held[- _]back": "check on unseen landings",
    "handbook bound|infinite mass": "upper bound (no slowing down)",
    "partial rank correlations?": "influence (-1 to +1)",
    "natural motions?": "mode",
    "mend(s|ed)?": "fix, hint",
    "Refusal": "InvalidValue",
    "Diver|diver": "flare descent",
    "Hunt|hunt": "Optimiser",
    "Workshop|workshop": "Evaluator",
    "KeptParts": "Checkpoint",
    "strangers?": "untrimmed",
    "take3|turn3|turn_back3|times6|back6": "sub3, rotate3, unrotate3, matvec6, matvec6_t",
    "drivers": "sensitivity",
    "dust": "rounding",
}
"""Old word, as a regular expression, and what to write."""

PLACES = [*(ROOT / "parasim").rglob("*.py"), *(ROOT / "parasim").rglob("*.md")]
PLACES += [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "configs").glob("*.yaml")]
ALLOWED = {"partial rank correlation": {"sensitivity.py", "scatter.md", "scatter.py"}}
"""The statistic by its own name, where it is computed or explained."""


@pytest.mark.parametrize("old", OLD)
def test_old_words_do_not_come_back(old: str) -> None:
    pattern = re.compile(rf"(?<![A-Za-z])({old})(?![A-Za-z_])")
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()}"
        for path in PLACES
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if (match := pattern.search(line)) and path.name not in ALLOWED.get(match[0], set())
    ]
    assert not found, f'write "{OLD[old]}" in\n' + "\n".join(found)
