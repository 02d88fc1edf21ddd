"""Change, take back and make again in any order, held against what the file says when it is read by itself."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from random import Random

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from netlister.workbench.model import AskError, StaleError
from tests.workbench.desks import YARD, counted, desk_on, look, made, stepped, tried

DOES = st.sampled_from(
    (
        *("insulate", "part", "join", "add-feed", "swap-feed", "move-feed", "take-feed", "swap-throws", "wire-throw"),
        *("add-contact", "take-contact", "add-unit", "take-unit", "set-piece", "add-piece", "rename"),
    )
)


class Desks(RuleBasedStateMachine):
    """The model: the texts before and after, as the file was found to hold them."""

    def __init__(self):
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.desk, self.file = desk_on(self.folder)
        self.before, self.after = [], []
        self.text = YARD

    def teardown(self):
        shutil.rmtree(self.folder)

    @rule(do=DOES, seed=st.integers(0, 2**32))
    def change(self, do, seed):
        ask = self.ask(do, Random(seed))
        if ask is None:
            return
        try:
            shown = tried(self.desk, **ask)
        except AskError:
            return
        assert self.file.read_text() == self.text
        try:
            answer = made(self.desk, **ask)
        except AskError as error:
            assert "afresh" not in str(error), ask
            return
        text = self.file.read_text()
        assert text != self.text
        assert shown["verdict"]["before"] == counted(self.text), ask
        assert shown["verdict"]["after"] == answer["verdict"]["after"] == counted(text), ask
        self.before.append(self.text)
        self.after = []
        self.text = text

    def ask(self, do, rng):
        offers = self.desk.offers()
        pieces = offers["pieces"]
        free = [f"{name}.{end}" for name, p in pieces.items() for end, joint in p["ends"].items() if not joint]
        rails = [f"{name}.{rail}" for name, p in pieces.items() for rail in p["rails"]]
        piece = rng.choice(list(pieces))
        word = rng.choice(["none", "left", "right", "both", "vee"])
        numbers = {"joint": "joints", "feed": "feeds", "contact": "contacts"}
        for what, section in numbers.items():
            if (do in {"insulate", "part"} and what == "joint") or do.endswith(f"-{what}") or "throw" in do:
                if do.startswith("add") or (what != "contact" and "throw" in do):
                    continue
                if not offers[section]:
                    return None
                number = rng.randrange(len(offers[section]))
                more = {"insulate": word} if do == "insulate" else {}
                if do == "move-feed":
                    more = {"to": piece}
                if do == "wire-throw":
                    place = rng.choice(["common", *(p for p, _ in offers["contacts"][number]["throws"])])
                    more = {"place": place, "to": rng.choice([*rails, "main.A", "main.B", ""])}
                return {"do": do, what: number, **more}
        new = f"n{rng.randrange(10**6)}"
        options = offers["options"][pieces[piece]["kind"]]
        key = rng.choice(list(options))
        return {
            "join": {"from": rng.choice(free or ["x"]), "to": rng.choice(free or ["x"]), "insulate": word},
            "add-feed": {"piece": piece, "from": "main", "A": rng.choice(["left", ""]), "B": rng.choice(["right", ""])},
            "add-contact": {"frog": rng.choice(["T1.frog", "T2.frog"])},
            "add-unit": {"frog": rng.choice(["T1.frog", "T2.frog"]), "from": "main"},
            "take-unit": {"unit": next(iter(offers["units"]), "")},
            "set-piece": {"piece": piece, "key": key, "value": rng.choice([*options[key], "", "321 mm"])},
            "add-piece": {
                "at": rng.choice(free or ["x"]),
                "name": new,
                "kind": rng.choice(["rail-section", "live-frog", "insulated-frog"]),
                "hand": rng.choice(["left", "right"]),
                "insulate": word,
            },
            "rename": {"old": rng.choice([*pieces, *offers["names"]]), "new": new},
        }[do] | {"do": do}

    @precondition(lambda self: self.before)
    @rule()
    def take_back(self):
        stepped(self.desk, "undo")
        self.after.append(self.text)
        self.text = self.before.pop()

    @precondition(lambda self: self.after)
    @rule()
    def make_again(self):
        stepped(self.desk, "redo")
        self.before.append(self.text)
        self.text = self.after.pop()

    @rule()
    def look_again(self):
        look(self.desk)

    @rule()
    def somebody_else_saves(self):
        seen = self.desk.version
        self.text += "# by another hand\n"
        self.file.write_text(self.text)
        try:
            self.desk.answer({"version": seen, "what": "make", "ask": {"do": "take-feed", "feed": 0}})
        except StaleError:
            pass
        except AskError:  # there is no feed
            pass
        else:
            raise AssertionError("written over what another has saved")
        look(self.desk)
        self.before, self.after = [], []

    @invariant()
    def the_file_is_the_text(self):
        assert self.file.read_text() == self.text
        offers = self.desk.offers()
        assert (offers["undo"], offers["redo"]) == (len(self.before), len(self.after))
        assert self.desk.now.source.text == self.text


TestDesks = Desks.TestCase
TestDesks.settings = settings(
    max_examples=3,
    stateful_step_count=12,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
