"""One word for one thing: the words of this tool, and what they are called on both sides of the ocean."""

from __future__ import annotations

import re
from typing import NamedTuple


class GlossaryWord(NamedTuple):
    """A word as this tool uses it, its North American and British names, and what it is."""

    word: str
    america: str
    britain: str
    meaning: str


WORDS = (
    GlossaryWord("turnout", "turnout, track switch", "points, turnout", "track that leads one way or the other"),
    GlossaryWord(
        "wye",
        "wye turnout, wye switch",
        "Y point, Y turnout",
        "a turnout whose legs both curve away (`hand: wye`); also a triangle of track",
    ),
    GlossaryWord(
        "diamond", "crossing, diamond crossing", "diamond crossing, diamond", "two tracks that cross (`diamond-…`)"
    ),
    GlossaryWord(
        "slip",
        "slip switch, puzzle switch",
        "slip, slip points",
        "a diamond with blades, so that trains can also turn off",
    ),
    GlossaryWord(
        "scissors crossover", "double crossover", "scissors crossover", "two crossovers that cross each other"
    ),
    GlossaryWord(
        "catch-turnout", "derail, split-point derail", "trap points, catch points", "throws runaways off the track"
    ),
    GlossaryWord("buffer", "bumper, bumping post", "buffer stop", "the end of a siding"),
    GlossaryWord("traverser", "transfer table", "traverser", "a table that slides sideways with a track on it"),
    GlossaryWord("toe", "points end", "toe", "the end of a turnout where its blades are"),
    GlossaryWord("leg", "leg", "road", "one of the two ways out of a turnout"),
    GlossaryWord(
        "lead", "lead", "lead", "from the point of the blades to the point of the frog; also a wire of a contact"
    ),
    GlossaryWord("blade", "point, point rail", "switch blade, tongue", "the rail that moves"),
    GlossaryWord("tie bar", "throw bar, throw rod", "tie bar, stretcher", "holds the blades apart and is what moves"),
    GlossaryWord("stock rail", "stock rail", "stock rail", "the outer rail that a blade lies against"),
    GlossaryWord("closure rail", "closure rail", "closure rail", "from a blade to the frog"),
    GlossaryWord("frog", "frog", "crossing, common crossing, frog", "where a rail crosses a rail"),
    GlossaryWord(
        "live frog", "powered frog, live frog", "live frog, live crossing", "of metal, with a pole that changes"
    ),
    GlossaryWord(
        "insulated frog",
        "insulated frog, plastic frog, dead frog",
        "insulated frog, dead frog",
        "of plastic: nothing conducts there",
    ),
    GlossaryWord(
        "nose", "point of frog", "crossing nose, vee", "the tip of a frog; as a key: where its insulation ends"
    ),
    GlossaryWord(
        "acute frog", "end frog", "common crossing, acute crossing", "one of the two at the ends of a diamond"
    ),
    GlossaryWord("obtuse frog", "center frog, K frog", "obtuse crossing, K crossing", "one of the two in its middle"),
    GlossaryWord("V rail", "frog point rail, heel rail", "vee rail, crossing rail", "a rail that leaves the frog"),
    GlossaryWord("guard rail", "guard rail", "check rail", "keeps wheels from the wrong side of a frog"),
    GlossaryWord("joint", "rail joint", "rail joint", "where two pieces of track meet (`joints`)"),
    GlossaryWord(
        "joiner", "rail joiner", "fishplate, rail joiner", "metal, joins two rails; an insulated one parts them"
    ),
    GlossaryWord(
        "gap",
        "gap, insulated joiner",
        "rail break, insulated fishplate, isolating gap",
        "where two rails meet and do not conduct",
    ),
    GlossaryWord("sleeper", "tie", "sleeper", "carries the rails"),
    GlossaryWord("baseboard", "module, benchwork", "baseboard", "what the track lies on (`boards`)"),
    GlossaryWord(
        "supply", "power pack, throttle, booster", "controller, booster", "what puts volts on the rails (`supplies`)"
    ),
    GlossaryWord(
        "station",
        "command station",
        "command station",
        "makes the digital signal (`station`); two are never in step",
    ),
    GlossaryWord(
        "programming output",
        "programming track",
        "programming track",
        "no wheel may join it to other track (`output: programming`)",
    ),
    GlossaryWord(
        "common return",
        "common rail, common return",
        "common return",
        "a pole that supplies share (`common`); for isolated outputs only",
    ),
    GlossaryWord(
        "bus", "bus, power bus", "bus, ring main", "the pair of thick wires that feeders are tapped from (`buses`)"
    ),
    GlossaryWord("feed", "feed", "feed", "where the rails of a piece get their poles from a bus (`feeds`)"),
    GlossaryWord(
        "feeder", "feeder, drop, feeder drop", "dropper", "the wires of a feed, one to a rail: each is a feed wire"
    ),
    GlossaryWord("pole", "rail polarity, phase", "polarity, phase", "A or B of a supply"),
    GlossaryWord(
        "in phase",
        "in phase, in step",
        "in phase",
        "both sides of a gap have the same pole at the same time",
    ),
    GlossaryWord("district", "power district, booster district", "power district", "what is fed behind one breaker"),
    GlossaryWord(
        "block",
        "block, detection section",
        "block, track-circuit section",
        "what one block detector watches (`kind: detector`)",
    ),
    GlossaryWord(
        "block detector",
        "block detector, occupancy detector",
        "block detector, track circuit",
        "sees the current that a block draws",
    ),
    GlossaryWord("section", "section, block", "section", "track between gaps that is fed as one"),
    GlossaryWord(
        "reversing section",
        "reverse loop, reversing section",
        "reverse loop, reversing section",
        "track that leads back with left and right exchanged",
    ),
    GlossaryWord(
        "reverser", "auto-reverser, reversing unit", "loop module", "swaps the two poles of a section (`reversers`)"
    ),
    GlossaryWord(
        "frog unit",
        "automatic frog polarity unit",
        "automatic frog polarity switch",
        "gives a frog the pole that a train needs (`frog-units`)",
    ),
    GlossaryWord("short", "short, short circuit", "short, short circuit", "two poles joined (`pole-short`)"),
    GlossaryWord("dead", "dead", "dead, isolated", "without the two poles of one supply: no train runs"),
    GlossaryWord(
        "stall", "stall", "stall", "a train stands on dead track (rule `stall`); a motor that holds is `type: stall`"
    ),
    GlossaryWord("road", "stall, roundhouse track", "road", "a track at the pit of a turntable (`roads`)"),
    GlossaryWord(
        "machine",
        "switch machine, switch motor",
        "point motor, point machine",
        "moves one or more turnouts (`machines`)",
    ),
    GlossaryWord(
        "memory wire",
        "shape-memory wire",
        "memory wire, shape-memory wire",
        "shortens when it is warm (`type: memory-wire`)",
    ),
    GlossaryWord(
        "lever", "ground throw, switch stand", "point lever, hand lever", "throws a turnout by hand (`type: lever`)"
    ),
    GlossaryWord("switch", "electrical switch, toggle", "switch", "made by hand, electrical; never track (`switches`)"),
    GlossaryWord("changeover contact", "SPDT", "changeover, SPDT", "one common, joined to one of two throws"),
    GlossaryWord(
        "throw",
        "throw",
        "throw",
        "of a contact: one of the two that the common can touch; of a turnout: to move its blades",
    ),
    GlossaryWord(
        "terminal strip",
        "terminal strip, barrier strip",
        "terminal block, connector strip",
        "free junctions in a row, such as `TB1.3`",
    ),
    GlossaryWord("plug", "plug, connector", "plug, connector", "between baseboards (`plugs`)"),
    GlossaryWord("pick-up", "pickup", "pick-up", "a wheel that takes current for the motor"),
    GlossaryWord(
        "wheelset",
        "wheelset",
        "wheelset",
        "two wheels on an axle; one with a resistor is seen by detectors (`axle-resistance`)",
    ),
    GlossaryWord(
        "stay-alive",
        "energy storage, capacitor pack",
        "stay-alive",
        "what keeps a locomotive running without current (`carries-on`)",
    ),
    GlossaryWord(
        "overhead wire",
        "trolley wire, catenary",
        "overhead line, catenary",
        "return through both rails: see the reference under that name",
    ),
    GlossaryWord("third rail", "third rail", "third rail, conductor rail", "as an overhead wire"),
)
"""In the order of the table in the reference: track, joints, power, gear, trains."""


def table() -> str:
    """The glossary as a table in Markdown."""
    rows = ["| this tool | North America | Britain | what it is |", "|---|---|---|---|"]
    rows += [f"| {w.word} | {w.america} | {w.britain} | {w.meaning} |" for w in WORDS]
    return "\n".join(rows) + "\n"


def explained(text: str) -> str:
    """What a word means, by any of its names in either country; nothing where it is not among them."""
    found = [w for w in WORDS if _plain(text) in names(w)]
    return "".join(_entry(w) for w in found)


def names(word: GlossaryWord) -> set[str]:
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


def _entry(w: GlossaryWord) -> str:
    return f"{w.word}: {w.meaning}\n  North America: {w.america}\n  Britain: {w.britain}\n"
