"""Changes of a layout as edits of the text of its file.

What comes of the edits is read again, and must be the layout that the changes make, entry by entry; anything else is
refused, so that no file is written that says something other than was meant.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.edits.feeds import LETTERS, EditError, FeedPlanner
from netlister.edits.gear import (
    AddExpectation,
    AddLink,
    AddPin,
    AddReverser,
    AddSwitch,
    AddUnit,
    Rebus,
    Recomponent,
    Reexpect,
    Relink,
    Repin,
    SetOption,
    Straighten,
    Thicken,
    ThickenWire,
    Tie,
)
from netlister.edits.model import AddContact, AddFeed, Insulate, Recommon, Refeed, Rewire, TakeOut, apply
from netlister.edits.patch import CannotPatchError, Patch, TextEdit, apply_edits
from netlister.edits.same import differences
from netlister.edits.writer import patched, patched_spelled_out
from netlister.layout.read import read_layout
from netlister.layout.terminal import Terminal, named
from netlister.source import Source, UnusableError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from netlister.edits.model import Change, Edit
    from netlister.layout.model import Contact, Joint, Layout, Reverser

__all__ = ["EditError", "new_text", "text_edits"]


def text_edits(
    layout: Layout, source: Source, edit: Edit, folder: Path | None = None, *, read_back: bool = True
) -> list[TextEdit]:
    """The edits of the text of `source` that make the changes `edit` of `layout`, which was read from it.

    All at once they give the new text (`new_text`). `folder` is where the file lies, for the kinds that `use` names.
    `read_back`: whether the new text is read again and compared, as it must be before it is written.
    Raises ImpossibleError where the layout cannot take the changes and EditError where the text cannot.
    """
    if layout.netlist:
        raise EditError("this layout comes from a netlist: make the changes in the drawing or the script, not here")
    wanted = apply(edit, layout)
    planner = _Planner(layout, source, edit)
    patch = planner.patch()
    wanted = planner.named(wanted)
    trouble = ""
    for way in (patched, patched_spelled_out):
        try:
            edits = way(source.name, source.text, patch)
            if not read_back:
                return edits
            read = read_layout(Source(source.name, apply_edits(source.text, edits)), folder)
        except CannotPatchError as error:
            trouble = trouble or f"the file is written in a way that cannot be edited here ({error})"
        except UnusableError as error:
            trouble = trouble or f"the changed file could not be read ({error.faults[0].message})"
        else:
            wrong = differences(wanted, read)
            if not wrong:
                return edits
            trouble = trouble or f"the changed file would not say what is meant ({wrong[0]})"
        if "*" not in source.text:
            break
    message = f"{trouble}; make the change by hand"
    raise EditError(message)


def new_text(source: Source, edits: Sequence[TextEdit]) -> str:
    """The text with all edits made."""
    return apply_edits(source.text, edits)


class _Planner(FeedPlanner):
    """Turns changes into a patch of the tree."""

    def patch(self) -> Patch:
        """The patch of all changes."""
        seen: set[tuple[str, object]] = set()
        for change in self.edit:
            for section, number in change.places():
                if (section, number) not in seen or number == "" or isinstance(change, SetOption):
                    seen.add((section, number))
                    self._one(change)
        self.plan_feeds()
        self._no_empty_contacts()
        return self.made

    def _no_empty_contacts(self) -> None:
        """Where all contacts of something are taken out and none is added, their key goes, too."""
        gone = {self.layout.contacts[number].owner for section, number in self.out if section == "contacts"}
        for owner in sorted(gone):
            if not any(c.owner == owner for n, c in enumerate(self.mid.contacts) if ("contacts", n) not in self.out):
                self.made.at(*self._owner(owner)).set["contacts"] = None

    def named(self, wanted: Layout) -> Layout:
        """The layout as it can be written: a feed that was parted from its entry has no id."""
        from dataclasses import replace

        if not self.unnamed:
            return wanted
        feeds = [
            feed._replace(name="") if number in self.unnamed else feed
            for number, feed in enumerate(self.mid.feeds)
            if ("feeds", number) not in self.out
        ]
        return replace(wanted, feeds=feeds)

    def _one(self, change: Change) -> None:  # noqa: C901, PLR0912, PLR0915 - one kind of change after the other
        layout, mid, made = self.layout, self.mid, self.made
        match change:
            case Insulate():
                word = _insulation(mid, mid.joints[change.joint])
                made.at("joints", change.joint).set["insulate"] = word
            case Refeed() | AddFeed():
                pass  # all feeds at once, below
            case Rewire() | Recommon():
                self._contact(layout.contacts[change.contact], mid.contacts[change.contact])
            case AddContact():
                contact = change.contact
                made.at(*self._owner(contact.owner), "contacts").set[contact.name] = self._new_contact(contact)
            case SetOption():
                made.at("track", change.piece).set[change.option] = change.value
            case Repin():
                pin = mid.pins[change.pin]
                self._ends(("plugs", pin.plug, "pins", pin.pin), (0, 1), layout.pins[change.pin], pin)
            case AddPin():
                pin = change.pin
                ends = [self._terminal(end, bus) for end, bus in zip(pin.ends, pin.buses, strict=True)]
                made.at("plugs", pin.plug, "pins").set[pin.pin] = ends
            case Relink():
                self._ends(("wires", change.link), ("from", "to"), layout.links[change.link], mid.links[change.link])
            case AddLink():
                link = change.link
                first, second = (self._terminal(end, bus) for end, bus in zip(link.ends, link.buses, strict=True))
                made.at("wires").added.append((None, {"from": first, "to": second}))
            case Recomponent():
                old, new = layout.components[change.name], mid.components[change.name]
                if new.kind != old.kind:
                    made.at("components", change.name).set["kind"] = new.kind
                self._ends(("components", change.name), ("from", "to"), old, new)
            case Thicken():
                made.at("buses", change.bus).set["wire"] = change.wire.text
            case ThickenWire():
                number = change.number if change.section == "links" else self.item_of(change.number)
                made.at({"links": "wires"}.get(change.section, change.section), number).set["wire"] = change.wire.text
            case AddReverser():
                made.at("reversers").set[change.reverser.name] = self._reverser(change.reverser)
            case AddSwitch():
                made.at("switches").set[change.switch.name] = {"positions": list(change.switch.positions)}
            case AddUnit():
                unit = change.unit
                made.at("frog-units").set[unit.name] = {"feeds": unit.frog, "from": unit.bus}
            case AddExpectation():
                meant = change.expectation
                track = meant.pieces[0] if len(meant.pieces) == 1 else list(meant.pieces)
                entry: dict[str, object] = {"track": track, "is": "live" if meant.live else "dead"}
                if meant.when:
                    entry["when"] = dict(meant.when)
                made.at("expect").added.append((None, entry))
            case Straighten():
                self._straighten(mid.reversers[change.name])
            case Rebus():
                section = {"units": "frog-units"}.get(change.section, change.section)
                made.at(section, change.name).set["from"] = change.bus
            case Tie():
                made.at("supplies", change.supply).set["common"] = change.to
            case Reexpect():
                self._reexpect(change)
            case TakeOut():
                self._take_out(change)
            case _:
                message = f"a change of the kind {type(change).__name__} cannot be written into a file"
                raise EditError(message)

    # -- terminals

    def _terminal(self, terminal: str, bus: str, end: str = "") -> str:
        """A terminal as it is written: a pole under the name of the bus, where one is meant or only one has it.

        `end`: of the piece, for a rail that is named there.
        """
        head, letter = Terminal.of(terminal)
        place = self.mid.pieces[head].kind.ends.get(end) if end else None
        if place is not None:
            return named(named(head, end), place.side_of(letter))
        if letter not in LETTERS or head not in self.layout.supplies:
            return terminal
        if not bus:
            carry = [b.name for b in self.layout.buses.values() if terminal in b.poles and not b.implicit]
            bus = carry[0] if len(carry) == 1 else head
        return named(bus, letter)

    def _ends(self, path: tuple[str | int, ...], keys: Iterable[str | int], old: Any, new: Any) -> None:
        """Write the ends that differ of something with two."""
        for number, key in enumerate(keys):
            if (old.ends[number], old.buses[number]) != (new.ends[number], new.buses[number]):
                self.made.at(*path).set[key] = self._terminal(new.ends[number], new.buses[number])

    # -- contacts

    def _owner(self, owner: str) -> tuple[str, str]:
        """Where the contacts of something that moves are written."""
        if owner in self.layout.machines:
            return "machines", owner
        return ("track" if owner in self.layout.pieces else "switches"), owner

    def _contact(self, old: Contact, new: Contact) -> None:
        fields: dict[str | int, object] = {}
        if (old.common, old.buses[:1]) != (new.common, new.buses[:1]):
            bus = new.buses[0] if new.buses else ""
            fields["common"] = None if new.common is None else self._terminal(new.common, bus)
        buses = (*new.buses, *("" for _ in new.throws))[1 : len(new.throws) + 1]
        before = (*old.buses, *("" for _ in new.throws))[1 : len(new.throws) + 1]
        ends = new.ends_at[1:] or ("",) * len(new.throws)
        for (position, to), bus, end, (_, was), had in zip(new.throws, buses, ends, old.throws, before, strict=True):
            if to != was or (bus != had and bus):
                fields[position] = None if to is None else self._terminal(to, bus, end)
        self.made.at(*self._owner(new.owner), "contacts", new.name).set.update(fields)

    def _new_contact(self, contact: Contact) -> dict[str, object]:
        buses = (*contact.buses, *("" for _ in range(len(contact.throws) + 1)))
        made: dict[str, object] = {}
        if contact.common is not None:
            made["common"] = self._terminal(contact.common, buses[0])
        for (position, to), bus in zip(contact.throws, buses[1:], strict=False):
            if to is not None:
                made[position] = self._terminal(to, bus)
        if contact.action != "break-before-make":
            made["action"] = contact.action
        return made

    # -- reversers

    def _reverser(self, reverser: Reverser) -> dict[str, object]:
        made: dict[str, object] = {"from": reverser.bus}
        if reverser.variable is None:
            made["mode"] = "automatic"
        else:
            made["follows"] = reverser.variable
            made["straight"] = self._positions(reverser.variable, reverser.straight)
        return made

    def _positions(self, name: str, values: tuple[int, ...]) -> list[str]:
        bar = self.layout.bars.get(name)
        positions = self.mid.variables[name].positions if bar is None else bar.positions
        return [positions[value] for value in values]

    def _straighten(self, reverser: Reverser) -> None:
        node = self.node_at("reversers", reverser.name)
        written = None if node is None else node.value_of("follows")
        name = "" if written is None else written.meant.text
        patch = self.made.at("reversers", reverser.name)
        if name not in self.layout.variables and name not in self.layout.bars and reverser.variable:
            patch.set["follows"] = name = reverser.variable  # a relay: what it follows has the positions
        patch.set["straight"] = self._positions(name, reverser.straight)

    # -- taken out

    def _take_out(self, change: TakeOut) -> None:
        layout, number = self.layout, change.number
        match change.section:
            case "feeds":
                pass
            case "contacts":
                contact = layout.contacts[number]
                self.made.at(*self._owner(contact.owner), "contacts").set[contact.name] = None
            case "pins":
                pin = layout.pins[number]
                self.made.at("plugs", pin.plug, "pins").set[pin.pin] = None
            case "links":
                self.made.at("wires").set[number] = None
            case "expectations":
                self.made.at("expect").set[self._expectation(number)] = None
            case "joints":
                self.made.at("joints").set[number] = None
            case _:
                message = f"an entry of '{change.section}' cannot be taken out here"
                raise EditError(message)

    def _reexpect(self, change: Reexpect) -> None:
        """Write other positions; where they are written of a relay or tie bar, a person must say which are meant."""
        node = self.node_at("expect")
        items = node.meant.items if node is not None else []
        if len(items) != len(self.layout.expectations):
            raise EditError("this expectation stands for several; change it by hand")
        written = items[change.number].value_of("when")
        for (name, _), (_, value) in zip(change.when, self.layout.expectations[change.number].when, strict=True):
            there = None if written is None else written.value_of(name)
            if there is None or there.meant.text != value:
                raise EditError("this expectation is written of other positions; change it by hand")
        self.made.at("expect", change.number, "when").set.update(dict(change.when))

    def _expectation(self, number: int) -> int:
        """The item of `expect` that an expectation was read from; one item may be several, through a relay."""
        expectations = self.layout.expectations
        node = self.node_at("expect")
        items = node.meant.items if node is not None else []
        if len(items) == len(expectations):
            return number
        runs: list[list[int]] = []
        for n, expectation in enumerate(expectations):
            if runs and expectations[runs[-1][0]].span == expectation.span:
                runs[-1].append(n)
            else:
                runs.append([n])
        item = next(i for i, run in enumerate(runs) if number in run)
        if len(runs) != len(items) or not all(("expectations", n) in self.out for n in runs[item]):
            raise EditError("this expectation stands for several; take it out by hand")
        return item


def _insulation(layout: Layout, joint: Joint) -> str:
    """The word for how a joint is insulated."""
    (a, b, left), (c, d, right) = joint.pairs
    if left and right:
        return "both"
    vee = tuple(layout.is_changing(x) or layout.is_changing(y) for x, y in ((a, b), (c, d)))
    if (left, right) == vee and any(vee):
        return "vee"
    return "left" if left else "right" if right else "none"
