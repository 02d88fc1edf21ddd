"""Feeds as changes of the text of a file: one entry may be of several pieces."""

from __future__ import annotations

from bisect import bisect_right
from functools import lru_cache
from itertools import accumulate
from typing import TYPE_CHECKING

from netlister import quantity
from netlister.edits.model import AddFeed, Refeed, TakeOut, apply
from netlister.edits.patch import Patch
from netlister.edits.tree import TreeNode, tree_of
from netlister.layout.terminal import Terminal
from netlister.lengths import Metres, in_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from netlister.edits.model import Edit
    from netlister.layout.model import Feed, Layout
    from netlister.source import Source

LETTERS = ("A", "B")


class EditError(Exception):
    """Changes that cannot be written into a file; says why and what to do instead."""


class FeedPlanner:
    """Turns changes of feeds into a patch of the tree, `made`."""

    def __init__(self, layout: Layout, source: Source, edit: Edit) -> None:
        self.layout = layout
        self.root = tree_of(source.text)
        self.edit = edit
        self.out = {(c.section, c.number) for c in edit if isinstance(c, TakeOut)}
        self.mid = apply(tuple(c for c in edit if not isinstance(c, TakeOut)), layout)
        self.unnamed: set[int] = set()  # feeds whose entry is parted, and whose part cannot have the id
        self.made = Patch()
        buses = [b for b in layout.buses.values() if not layout.supplies[b.supply].accessory]
        written = [b.name for b in buses if not b.implicit] or [b.name for b in buses]
        self.default = written[0] if len(written) == 1 else ""

    def node_at(self, *path: str) -> TreeNode | None:
        """What stands in the file under these keys."""
        node: TreeNode | None = self.root
        for key in path:
            node = None if node is None else node.value_of(key)
        return node

    def plan_feeds(self) -> None:
        """Write the changes of feeds."""
        touched = {c.feed for c in self.edit if isinstance(c, Refeed)}
        touched |= {number for section, number in self.out if section == "feeds"}
        if touched:
            self._entries(touched)
        for change in self.edit:
            if isinstance(change, AddFeed):
                feed = change.feed
                words = self._words(feed, feed.target or feed.piece, ())
                entry = self._entry([feed.target or feed.piece], feed, words) | _fresh(feed)
                self.made.at("feeds").added.append((None, entry))

    def item_of(self, feed: int) -> int:
        """The number of the entry that a feed is of."""
        node = self.node_at("feeds")
        return 0 if node is None else bisect_right(_first_feeds(node.meant), feed) - 1

    def _entries(self, touched: set[int]) -> None:
        node = self.node_at("feeds")
        if node is None:
            return
        starts = _first_feeds(node.meant)
        for number in sorted({bisect_right(starts, feed) - 1 for feed in touched}):
            item = node.meant.items[number]
            to = item.value_of("to")
            several = to is not None and to.meant.kind == "list"
            self._feed_entry(number, item, list(range(starts[number], starts[number + 1])), several=several)

    def _feed_entry(self, number: int, item: TreeNode, members: list[int], *, several: bool) -> None:
        """Change an entry of feeds; where only some of its pieces change, they get an entry of their own."""
        written = tuple(n.meant.text for n in (item.value_of(letter) for letter in LETTERS) if n is not None)
        groups: dict[tuple[str, ...], list[int]] = {}
        for member in members:
            if ("feeds", member) in self.out:
                continue
            old, new = self.layout.feeds[member], self.mid.feeds[member]
            if (old.source, old.wires) == (new.source, new.wires):
                groups.setdefault((), []).append(member)
            else:
                groups.setdefault((new.source, *self._words(new, new.target, written)), []).append(member)
        if not groups:
            self.made.at("feeds").set[number] = None
            return
        stays = () if () in groups else next(iter(groups))
        if stays:
            self._rewrite(number, item, stays)
        for k, member in enumerate(members):
            if several and member not in groups[stays]:
                self.made.at("feeds", number, "to").set[k] = None
        for words, group in groups.items():
            if words == stays:
                continue
            feed = self.mid.feeds[group[0]]
            entry = self._entry([self.mid.feeds[m].target for m in group], feed, words[1:])
            for field in ("at", "tap", "wire", "length"):
                node = item.value_of(field)
                if node is not None:
                    entry[field] = node.meant.text
            if feed.name:
                self.unnamed.update(group)
            self.made.at("feeds").added.append((number, entry))

    def _rewrite(self, number: int, item: TreeNode, words: tuple[str, ...]) -> None:
        """Write another source or other rails into an entry."""
        source, *sides = words
        old = item.value_of("from")
        patch = self.made.at("feeds", number)
        if source != (self.default if old is None else old.meant.text):
            patch.set["from"] = source
        nodes = [item.value_of(letter) for letter in LETTERS]
        now = ["" if node is None else node.meant.text for node in nodes] if any(nodes) else ["left", "right"]
        if now == sides:
            return
        for letter, node, word in zip(LETTERS, nodes, sides, strict=True):
            if word and (node is None or node.meant.text != word):
                patch.set[letter] = word
            elif not word and node is not None:
                patch.set[letter] = None

    def _words(self, feed: Feed, target: str, written: tuple[str, ...]) -> tuple[str, str]:
        """Which rail each pole feeds, as words: `left` and `right` where these say it, else the rail."""
        kind = self.layout.pieces[feed.piece].kind
        end = Terminal.of(target).own
        ends = [kind.ends[end]] if end else ([e for e in kind.ends.values() if e.entering] or list(kind.ends.values()))
        sides = {} if len(ends) != 1 else {ends[0].left: "left", ends[0].right: "right"}
        if written and not set(written) & {"left", "right"}:
            sides = {}
        poles = self._poles(feed.source)
        found = {"A": "", "B": ""}
        for pole, terminal in feed.wires:
            rail = Terminal.of(terminal).own
            letter = LETTERS[poles.index(pole)] if pole in poles else ""
            if not letter or found[letter]:
                message = f"one feed cannot wire {pole} to {terminal} and what else it has; write two feeds"
                raise EditError(message)
            found[letter] = sides.get(rail, rail)
        if not any(found.values()):
            message = f"a feed of '{feed.piece}' without a wire cannot be written; take it out"
            raise EditError(message)
        return found["A"], found["B"]

    def _poles(self, source: str) -> tuple[str, str]:
        if source in self.mid.reversers:
            return self.mid.reversers[source].outputs
        bus = self.mid.buses.get(source)
        return bus.poles if bus is not None else self.mid.supplies[source].poles

    def _entry(self, targets: list[str], feed: Feed, words: Sequence[str]) -> dict[str, object]:
        """A new entry of feeds."""
        entry: dict[str, object] = {"to": targets[0] if len(targets) == 1 else targets}
        if feed.source != self.default:
            entry["from"] = feed.source
        entry |= {letter: word for letter, word in zip(LETTERS, words, strict=True) if word}
        return entry


def _fresh(feed: Feed) -> dict[str, object]:
    """The other fields of a new feed."""
    made: dict[str, object] = {}
    if feed.at is not None:
        made["at"] = exact_length(feed.at)
    if feed.tap is not None:
        made["tap"] = exact_length(feed.tap)
    if feed.wire.text:
        made["wire"] = feed.wire.text
    if feed.wire.length is not None:
        made["length"] = exact_length(feed.wire.length)
    if feed.name:
        made["id"] = feed.name
    return made


def exact_length(value: Metres) -> str:
    """A length as it is written, so that the same number is read back."""
    ways = (f"{in_mm(value):.6g} mm", f"{value:.12g} m")
    for text in ways if value < 1 else ways[::-1]:
        if quantity.parse(text, quantity.LENGTH) == value:
            return text
    return f"{value!r} m"


@lru_cache(maxsize=2)
def _first_feeds(node: TreeNode) -> list[int]:
    """Per entry of feeds the number of its first feed, and at the end how many there are: one for each piece."""
    counts = []
    for item in node.items:
        to = item.value_of("to")
        counts.append(len(to.meant.items) if to is not None and to.meant.kind == "list" else 1)
    return [0, *accumulate(counts)]
