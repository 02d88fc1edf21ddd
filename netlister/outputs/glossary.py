"""One word for one thing: the words of this tool, and what they are called on both sides of the ocean."""

from __future__ import annotations

import re
from typing import NamedTuple


class Word(NamedTuple):
    """A word as this tool uses it, its North American and British names, and what it is."""

    word: str
    america: str
    britain: str
    meaning: str


WORDS = (
    Word("turnout", "turnout, track switch", "points, turnout", "track that leads one way or the other"),
    Word("switch", "electrical switch, toggle", "switch", "made by hand, electrical; never track (`switches`)"),
    Word("machine", "switch machine, switch motor", "point motor", "moves one or more turnouts (`machines`)"),
    Word("toe", "points end", "toe", "the end of a turnout where its blades are"),
    Word("leg", "leg", "road", "one of the two ways out of a turnout"),
    Word("lead", "lead", "lead", "from the point of the blades to the point of the frog"),
    Word("blade", "point, point rail", "switch blade, tongue", "the rail that moves"),
    Word("tie bar", "throw bar, throw rod", "tie bar, stretcher", "holds the blades apart and is what moves"),
    Word("frog", "frog", "crossing", "where a rail crosses a rail"),
    Word("nose", "point of frog", "crossing nose, vee", "the tip of a frog; as a key: where its insulation ends"),
    Word("acute frog", "end frog", "common crossing, acute crossing", "one of the two at the ends of a diamond"),
    Word("obtuse frog", "center frog, K frog", "obtuse crossing, K crossing", "one of the two in its middle"),
    Word("V rail", "frog wing rail, heel rail", "vee rail, crossing rail", "a rail that leaves the frog"),
    Word("guard rail", "guard rail", "check rail", "keeps wheels from the wrong side of a frog"),
    Word("joiner", "rail joiner", "fishplate", "metal, joins two rails; an insulated one parts them"),
    Word("gap", "gap, insulated joiner", "rail break, insulated fishplate", "where two rails meet and do not conduct"),
    Word("sleeper", "tie", "sleeper", "carries the rails"),
    Word("feed", "feed", "feed", "a rail joined to a pole (`feeds`)"),
    Word("feeder", "feeder, drop, feeder drop", "dropper", "the wire of a feed"),
    Word("bus", "bus", "bus, ring main", "the pair of thick wires that feeders are tapped from (`buses`)"),
    Word("pole", "rail polarity, phase", "polarity, phase", "A or B of a supply; in step: in phase"),
    Word("reverser", "auto-reverser, reversing unit", "loop module", "swaps the two poles of a section (`reversers`)"),
    Word("catch-turnout", "derail, split-point derail", "trap points, catch points", "throws runaways off the track"),
    Word("stall", "stall", "stall", "a train stands on dead track (rule `stall`); a motor that holds is `type: stall`"),
    Word("road", "stall, roundhouse track", "road", "a track at the pit of a turntable (`roads`)"),
    Word("changeover contact", "SPDT", "changeover, SPDT", "one common, joined to one of two throws"),
    Word("district", "power district", "power district", "what is fed behind one breaker"),
)
"""In the order of the table in the reference."""


def table() -> str:
    """The glossary as a table in Markdown."""
    rows = ["| this tool | North America | Britain | what it is |", "|---|---|---|---|"]
    rows += [f"| {w.word} | {w.america} | {w.britain} | {w.meaning} |" for w in WORDS]
    return "\n".join(rows) + "\n"


def explained(text: str) -> str:
    """What a word means, by any of its names in either country; nothing where it is not among them."""
    found = [w for w in WORDS if _plain(text) in names(w)]
    return "".join(_entry(w) for w in found)


def names(word: Word) -> set[str]:
    """All names of a word, one number or several, in small letters."""
    listed = [word.word, *word.america.split(","), *word.britain.split(",")]
    return {_plain(name) for name in listed}


def every_name() -> list[str]:
    """Every name of every word, sorted."""
    return sorted(set().union(*(names(w) for w in WORDS)))


def _plain(text: str) -> str:
    """A word for comparison: small letters, hyphens as spaces, one for many."""
    found = re.sub(r"[\s_-]+", " ", text.strip().lower())
    return found if found.endswith("ss") or found == "bus" else re.sub(r"(?<=ch)es$|(?<=bus)es$|s$", "", found)


def _entry(w: Word) -> str:
    return f"{w.word}: {w.meaning}\n  North America: {w.america}\n  Britain: {w.britain}\n"
