"""Proposals beside plain enumeration, which shares no code with the tool's engine, and beside all cheaper wirings."""

from __future__ import annotations

import itertools
import re
from pathlib import Path
from random import Random

import pytest
import yaml

from netlister.check import check
from netlister.edits.patch import apply_edits
from netlister.layout.read import read_layout
from netlister.propose.model import AIMS
from netlister.propose.proposal import shared_out
from netlister.propose.search import propose
from netlister.source import Source, UnusableError
from tests.amount import seeds
from tests.benchmarks.layouts import branch_line, double_ended_yard
from tests.properties.layouts import dump, random_layout
from tests.propose.bare import bare, old_cost, wrong_by_enumeration

EXAMPLES = Path(__file__).parents[2] / "examples"


def read(text, folder=None):
    return read_layout(Source("layout.yaml", text), folder)


def proposed(text, **options):
    return propose(read(text), Source("layout.yaml", text), **options)


# -- the trade's rules come out (practice: common practice, no published source)

HEAD = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}\ntrack:\n"

STUB = (
    HEAD
    + """\
  siding: {length: 450 mm}
  branch: {length: 450 mm}
  T1: {kind: live-frog, hand: right}
joints:
  - {from: T1.through, to: branch}
  - {from: T1.diverging, to: siding}
"""
)

CROSSOVER = (
    HEAD
    + """\
  T1: {kind: live-frog, hand: right}
  T2: {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1, T2]}
joints:
  - {from: T1.diverging, to: T2.diverging}
"""
)

LOOP = (
    HEAD
    + """\
  loop: {radius: 450 mm, angle: 300 deg, turn: left}
  T1: {kind: live-frog-bonded, hand: wye}
joints:
  - {from: T1.right, to: loop}
  - {from: loop, to: T1.left}
"""
)

PASSING = (
    HEAD
    + """\
  west: {length: 1 m}
  east: {length: 1 m}
  middle: {length: 1 m}
  loop: {length: 1 m}
  T1: {kind: live-frog, hand: right}
  T2: {kind: live-frog, hand: left}
joints:
  - {from: west, to: T1.toe}
  - {from: T1.through, to: middle}
  - {from: T1.diverging, to: loop}
  - {from: middle, to: T2.through}
  - {from: loop, to: T2.diverging}
  - {from: T2.toe, to: east}
"""
)

INSULATED = STUB.replace("live-frog", "insulated-frog")

SLIP = (
    HEAD
    + """\
  X1: {kind: double-slip-live}
  nw: {length: 1 m}
  ne: {length: 1 m}
  sw: {length: 1 m}
  se: {length: 1 m}
machines:
  MA: {throws: [X1.a]}
  MB: {throws: [X1.b]}
joints:
  - {from: nw, to: X1.a1}
  - {from: sw, to: X1.a2}
  - {from: X1.b1, to: ne}
  - {from: X1.b2, to: se}
"""
)

THREE_WAY = (
    HEAD
    + """\
  X1: {kind: three-way-live}
  l: {length: 1 m}
  c: {length: 1 m}
  r: {length: 1 m}
machines:
  ML: {throws: [X1.left]}
  MR: {throws: [X1.right]}
never:
  - {ML: left, MR: right}
joints:
  - {from: X1.left, to: l}
  - {from: X1.centre, to: c}
  - {from: X1.right, to: r}
"""
)

TRIANGLE = (
    HEAD
    + """\
  ab: {length: 2 m}
  bc: {length: 2 m}
  ca: {length: 2 m}
  A: {kind: live-frog, hand: wye}
  B: {kind: live-frog, hand: wye}
  C: {kind: live-frog, hand: wye}
joints:
  - {from: A.left, to: ab.a}
  - {from: ab.b, to: B.right}
  - {from: B.left, to: bc.a}
  - {from: bc.b, to: C.right}
  - {from: C.left, to: ca.a}
  - {from: ca.b, to: A.right}
"""
)


@pytest.mark.parametrize(
    ("text", "joiners", "feeds", "contacts", "reversers"),
    [
        (STUB, 2, 4, 0, 0),  # both V rails; the toe and each rail beyond a V
        (CROSSOVER, 2, 4, 0, 0),  # both rails of the middle joint
        (PASSING, 4, 4, 0, 0),  # each track has a frog at both ends of one rail: that rail is cut at both
        (INSULATED, 0, 4, 0, 0),  # none for themselves; beyond an unset leg a rail is dead unless it is fed from there
        (SLIP, 4, 6, 2, 0),  # four frog-side legs; contacts cross over
        (THREE_WAY, 4, 6, 3, 0),  # the four V rails
        (LOOP, 4, 4, 1, 1),  # both rails at both ends, a reverser
    ],
)
def test_the_rules_of_the_trade_come_out(text, joiners, feeds, contacts, reversers):
    found = proposed(text)
    assert found.right, (found.missing, [f.message for f in found.left])
    made = found.design
    assert (made.joiners, made.feeds, made.contacts, made.reversers) == (joiners, feeds, contacts, reversers)
    assert found.bound == found.cost
    assert not wrong_by_enumeration(found.text)


def test_the_contacts_of_a_slip_cross_over():
    """The frog at one end moves with the tie bar at the other (common practice, no published source)."""
    text = proposed(SLIP).text
    assert re.search(r"MA: \{.*common: X1.frog-b", text)
    assert re.search(r"MB: \{.*common: X1.frog-a", text)


def test_a_triangle_gets_one_section_on_a_reverser():
    found = proposed(TRIANGLE)
    assert found.right, (found.missing, [f.message for f in found.left])
    assert found.design.reversers == 1
    assert not wrong_by_enumeration(found.text)


# -- nothing cheaper: all cheaper sets, judged by a reading of the format of its own


def two_way(name, hand, blades):
    """Rails, legs (left rail, right rail, set in state) and blade contacts of a turnout, typed from the format."""
    sl, sr, frog = f"{name}.stock-left", f"{name}.stock-right", f"{name}.frog"
    left, right = (
        (("through", "diverging") if hand == "right" else ("diverging", "through"))
        if hand != "wye"
        else ("left", "right")
    )
    contacts = {left: [(frog, sr)], right: [(frog, sl)]} if blades else {left: [], right: []}
    return {
        "rails": [sl, sr, frog],
        "legs": {left: (sl, frog), right: (frog, sr)},
        "toe": (sl, sr),
        "made": contacts,
        "name": name,
    }


class Small:
    """A few turnouts and plain pieces; every set of cuts, wires and contacts can be judged in every state."""

    def __init__(self, turnouts, plain, joints, tied=(), *, switched=False):
        self.switched = switched  # whether track may be dead while a turnout is set against it
        self.turnouts, self.plain, self.joints, self.tied = turnouts, plain, joints, tied
        self.rails = [r for t in turnouts for r in t["rails"]] + [f"{p}.{s}" for p in plain for s in ("left", "right")]
        positions = [[(t["name"], leg) for leg in t["legs"]] for t in turnouts]
        self.states = [dict(s) for s in itertools.product(*positions)]
        if tied:
            self.states = [s for s in self.states if len({list(t["legs"]).index(s[t["name"]]) for t in turnouts}) == 1]
        self.items = [(1, ("cut", j, side)) for j in range(len(joints)) for side in (0, 1)]
        self.items += [(1, ("wire", r, pole)) for r in self.rails for pole in "AB"]
        self.items += [(2, ("contact", t["name"])) for t in turnouts]

    def right(self, chosen):
        cuts = {(j, s) for kind, *rest in chosen if kind == "cut" for j, s in [rest]}
        wires = [(r, p) for kind, *rest in chosen if kind == "wire" for r, p in [rest]]
        contacts = {rest[0] for kind, *rest in chosen if kind == "contact"}
        if not self.switched:
            return all(self.right_in(state, cuts, wires, contacts) for state in self.states)
        self.lives, self.fed = set(), set()
        if not all(self.right_in(state, cuts, wires, contacts) for state in self.states):
            return False
        return self.lives >= {*self.plain} and self.fed >= {*self.rails}

    def against(self, p, state, cuts):
        """Whether a plain piece hangs by metal on the frog of a turnout that is set the other way."""
        for j, (pairs, ends) in enumerate(self.joints):
            for side, (a, b) in enumerate(pairs):
                if f"{p}." in a or f"{p}." in b:
                    frog = a.endswith(".frog") or b.endswith(".frog")
                    unset = any(state.get(name, leg) != leg for name, leg in ends)
                    if (j, side) not in cuts and frog and unset:
                        return True
        return False

    def right_in(self, state, cuts, wires, contacts):  # noqa: PLR0912
        near = {r: [] for r in self.rails}

        def join(a, b):
            near[a].append(b)
            near[b].append(a)

        for j, (pairs, _) in enumerate(self.joints):
            for side, (a, b) in enumerate(pairs):
                if (j, side) not in cuts:
                    join(a, b)
        for t in self.turnouts:
            leg = state[t["name"]]
            for a, b in t["made"][leg]:
                join(a, b)
            if t["name"] in contacts:
                other = [r for r in t["toe"] if r not in t["legs"][leg]]
                join(t["rails"][2], other[0])
        pole = {}
        for rail, letter in wires:
            stack = [rail]
            while stack:
                here = stack.pop()
                if pole.get(here, letter) != letter:
                    return False
                if here not in pole:
                    pole[here] = letter
                    stack += near[here]
        if self.switched:
            self.fed |= {*pole}
            pole |= {rail: None for rail in self.rails if rail not in pole}
        if len(pole) < len(self.rails):
            return False
        for p in self.plain:
            here = {pole[f"{p}.left"], pole[f"{p}.right"]}
            if here == {"A", "B"}:
                if self.switched:
                    self.lives.add(p)
            elif not self.switched or not self.against(p, state, cuts):
                return False
        for t in self.turnouts:
            if {pole[t["toe"][0]], pole[t["toe"][1]]} != {"A", "B"}:
                return False
            a, b = t["legs"][state[t["name"]]]
            if {pole[a], pole[b]} != {"A", "B"}:
                return False
        for j, (pairs, ends) in enumerate(self.joints):
            running = {t.split(".")[0] for pair in pairs for t in pair} & {*self.plain}
            if self.switched and any(self.against(p, state, cuts) for p in running):
                continue  # running against a turnout, which is a matter of its own
            clash = any(
                (j, side) in cuts and pole[a] and pole[b] and pole[a] != pole[b] for side, (a, b) in enumerate(pairs)
            )
            if clash and all(state.get(name, leg) == leg for name, leg in ends):
                return False
        return True

    def cheapest(self, below):
        """The cheapest right set that costs less than `below`, or None, by trying all."""
        ones = [item for price, item in self.items if price == 1]
        twos = [item for price, item in self.items if price == 2]
        for cost in range(below):
            for count in range(min(len(twos), cost // 2) + 1):
                for pair in itertools.combinations(twos, count):
                    for rest in itertools.combinations(ones, cost - 2 * count):
                        wires = {r for kind, r, *_ in rest if kind == "wire"}
                        if len(wires) == sum(kind == "wire" for kind, *_ in rest) and self.right((*pair, *rest)):
                            return cost, (*pair, *rest)
        return None


def small_stub(blades):
    t = two_way("T1", "right", blades)
    joints = [
        ([("T1.stock-left", "branch.left"), ("T1.frog", "branch.right")], [("T1", "through")]),
        ([("T1.frog", "siding.left"), ("T1.stock-right", "siding.right")], [("T1", "diverging")]),
    ]
    return Small([t], ["branch", "siding"], joints)


def small_crossover():
    a, b = two_way("T1", "right", True), two_way("T2", "right", True)
    pairs = [("T1.frog", "T2.stock-right"), ("T1.stock-right", "T2.frog")]
    return Small([a, b], [], [(pairs, [("T1", "diverging"), ("T2", "diverging")])], tied=True)


@pytest.mark.parametrize(
    ("text", "small"),
    [
        (STUB, small_stub(blades=True)),
        (STUB.replace("live-frog", "live-frog-bonded"), small_stub(blades=False)),
        (CROSSOVER, small_crossover()),
    ],
)
def test_nothing_cheaper_is_right(text, small):
    found = proposed(text)
    assert found.right
    assert found.bound == found.cost
    assert small.cheapest(int(found.cost)) is None


def small_passing():
    a, b = two_way("T1", "right", True), two_way("T2", "left", True)
    joints = [
        ([("T1.stock-left", "middle.left"), ("T1.frog", "middle.right")], [("T1", "through")]),
        ([("T1.frog", "loop.left"), ("T1.stock-right", "loop.right")], [("T1", "diverging")]),
        ([("middle.left", "T2.stock-right"), ("middle.right", "T2.frog")], [("T2", "through")]),
        ([("loop.left", "T2.frog"), ("loop.right", "T2.stock-left")], [("T2", "diverging")]),
    ]
    return Small([a, b], ["middle", "loop"], joints, switched=True)


def small_switched(blades):
    small = small_stub(blades)
    small.switched = True
    return small


@pytest.mark.parametrize(
    ("text", "small"),
    [
        (STUB, small_switched(blades=True)),
        (STUB.replace("live-frog", "live-frog-bonded"), small_switched(blades=False)),
        (PASSING, small_passing()),
    ],
)
@pytest.mark.parametrize("aim", ["fewest-joiners", "fewest-wires"])
def test_nothing_cheaper_is_right_where_track_may_be_dead(text, small, aim):
    found = proposed(text, aim=aim)
    assert found.right
    assert found.bound == found.cost
    assert small.cheapest(int(found.cost)) is None
    assert small.cheapest(int(found.cost) + 1)[0] == found.cost  # the search can find what there is


def test_the_search_for_something_cheaper_can_find_something():
    cost, _ = small_crossover().cheapest(99)
    assert cost == proposed(CROSSOVER).cost


# -- examples, random layouts, size


@pytest.mark.parametrize(
    "name",
    ["one-frog", "crossover", "reversing-loop", "junction", "terminus", "sawmill", "sawmill-lever", "peat-railway",
     "ferry", "quarry-line", "second-hand", "two-cabs"],
)  # fmt: skip
def test_examples_are_wired_again_at_no_more_than_their_old_cost(name):
    path = EXAMPLES / name / "layout.yaml"
    text = path.read_text(encoding="utf-8")
    stripped = dump(bare(yaml.load(text, yaml.BaseLoader)))  # noqa: S506
    found = propose(read(stripped, path.parent), Source("layout.yaml", stripped), folder=path.parent)
    assert found.right, (found.missing, [f.message for f in found.left])
    assert found.cost <= old_cost(read(text, path.parent))


def test_every_kind_of_piece_is_wired():
    """An example that has each kind; the hand switches stay, since crossings say with them which track is set."""
    path = EXAMPLES / "every-piece" / "layout.yaml"
    text = path.read_text(encoding="utf-8")
    data = yaml.load(text, yaml.BaseLoader)  # noqa: S506
    stripped = bare(data) | {"switches": data["switches"]}
    for switch in stripped["switches"].values():
        switch.pop("contacts", None)
    stripped = dump(stripped)
    found = propose(read(stripped, path.parent), Source("layout.yaml", stripped), folder=path.parent)
    assert found.right, (found.missing, [f.message for f in found.left])
    assert found.cost <= old_cost(read(text, path.parent))


@pytest.mark.parametrize("seed", seeds(12, 60))
def test_what_is_called_right_is_right_by_enumeration(seed):
    """On random tracks of every kind; frogs without a wire on purpose may float."""
    stripped = bare(random_layout(Random(seed)))
    text = dump(stripped)
    try:
        layout = read(text)
    except UnusableError:
        return
    found = propose(layout, Source("layout.yaml", text))
    assert found.right or found.left or found.missing
    if found.right:
        meant = {p.name for p in layout.pieces.values() if p.dead_frog or p.kind.sealed}
        wrong = wrong_by_enumeration(found.text)  # a hand switch that is to be thrown in time is a note
        assert not {key for key in wrong if key[0] != "hand-reversing" and key[1].partition(".")[0] not in meant}
    assert apply_edits(text, [e for *_, edits in shared_out(found) for e in edits]) == found.text


def test_the_left_rail_of_the_first_piece_is_a():
    """Which way round is free where nothing is fed yet; people write A to the left."""
    for text in (PASSING, INSULATED):
        feeds = yaml.safe_load(proposed(text).text)["feeds"]
        first = next(iter(yaml.safe_load(text)["track"]))
        assert next(f for f in feeds if f["to"] == first)["A"] == "left"


def test_several_options_of_one_piece_are_altered_at_once():
    """Foil that was missed on both sides of a frog joins it to both stock rails."""
    kind = "kind: copper-clad-live-frog, foil-frog-left: missed, foil-frog-right: missed,"
    text = STUB.replace("kind: live-frog,", kind)
    found = proposed(text)
    assert found.right
    assert found.design.counted["option"] == 2
    assert "missed" not in found.text
    assert not wrong_by_enumeration(found.text)


@pytest.mark.parametrize("seed", [217, 251, 493])
def test_layouts_that_were_once_not_wired(seed):
    found = proposed(dump(bare(random_layout(Random(seed)))))
    assert found.right, (found.missing, [f.message for f in found.left])
    assert not {key for key in wrong_by_enumeration(found.text) if key[0] != "hand-reversing"}


def test_a_loop_over_a_turntable_needs_no_reverser_but_that_of_the_bridge():
    """The bridge may turn its poles between the two tracks that it leads to, so that no other section must."""
    text = (
        HEAD
        + """\
  line: {length: 2 m}
  T1: {kind: live-frog, hand: wye}
  out: {length: 1 m}
  home: {length: 1 m}
  TT: {kind: turntable, roads: 2}
  shed: {length: 400 mm}
machines:
  M1: {throws: [T1]}
  M2: {throws: [TT]}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.left, to: out}
  - {from: T1.right, to: home}
  - {from: out.b, to: TT.s1}
  - {from: TT.tail, to: home.b}
  - {from: TT.s2, to: shed.a}
"""
    )
    found = proposed(text)
    assert found.right, (found.missing, [f.message for f in found.left])
    assert found.design.reversers == 1
    assert not wrong_by_enumeration(found.text)
    assert found.bound <= found.cost


def test_what_is_right_is_left_alone():
    text = (EXAMPLES / "one-frog" / "layout.yaml").read_text(encoding="utf-8")
    found = proposed(text)
    assert found.right
    assert found.text == text
    assert found.cost == 0


def test_what_is_missing_is_said_and_never_called_right():
    text = HEAD + "  quay: {}\n  shed: {}\njoints:\n  - {from: quay, to: shed}\n"
    found = proposed(text + "feeds:\n  - {to: quay}\n  - {to: shed, A: right, B: left}\n")
    assert not found.right
    assert "the feed of 'shed' is the other way round" in found.missing[0]


def test_frogs_that_nothing_throws_get_units():
    """A slip without machines: each frog is moved by one tie bar, on which no contact can be written."""
    found = proposed(HEAD + "  X1: {kind: double-slip-live}\n")
    assert found.right
    assert found.design.counted["unit"] == 2
    assert not wrong_by_enumeration(found.text)


def test_a_piece_that_joins_its_own_rails_is_altered():
    """Jumpers fitted and the hidden links left in join the stock rails (practice: acceptance case 9, one source)."""
    found = proposed(STUB.replace("kind: live-frog,", "kind: live-frog, jumpers: true,"))
    assert found.right
    assert "links: cut" in found.text
    assert not wrong_by_enumeration(found.text)


def test_a_siding_that_is_meant_to_be_switched_stays_so():
    """With `expect` the rail beyond the frog keeps its metal joiner and gets no wire."""
    text = STUB + "expect:\n  - {track: siding, is: dead, when: {T1: through}}\n"
    found = proposed(text)
    assert found.right
    assert found.design.joiners == 1
    assert not wrong_by_enumeration(found.text)


def test_aims_cost_more_and_are_right():
    costs = {}
    for aim in AIMS:
        found = proposed(PASSING, aim=aim)
        assert found.right
        assert not wrong_by_enumeration(found.text)
        assert found.bound == found.cost
        costs[aim] = found.cost
    # where track may be dead, one gap does for two turnouts frog to frog (practice R1, two sources)
    assert costs == {
        "all-live": 8, "no-blades": 12, "every-piece": 16, "switched-sidings": 8, "fewest-joiners": 4,
        "fewest-wires": 4,
    }  # fmt: skip


@pytest.mark.parametrize("aim", AIMS)
@pytest.mark.parametrize("seed", seeds(4, 40))
def test_what_is_right_for_an_aim_is_right_by_enumeration(aim, seed):
    """`expect` says what is dead; it is held by the enumeration as well."""
    stripped = bare(random_layout(Random(1000 + seed)))
    text = dump(stripped)
    try:
        layout = read(text)
    except UnusableError:
        return
    found = propose(layout, Source("layout.yaml", text), aim=aim)
    if found.right:
        meant = {p.name for p in layout.pieces.values() if p.dead_frog or p.kind.sealed}
        wrong = wrong_by_enumeration(found.text)
        assert not {key for key in wrong if key[0] != "hand-reversing" and key[1].partition(".")[0] not in meant}
        assert found.bound <= found.cost


def test_no_blades_leaves_nothing_to_blades():
    for text in (STUB, PASSING, INSULATED, SLIP):
        found = proposed(text, aim="no-blades")
        assert found.right
        assert not check(read(found.text), select=["blade-fed"]).findings


def test_switched_sidings_need_no_joiner_and_no_wire():
    """A stub beyond a live frog with no other feed needs no gap (practice R7, one source)."""
    found = proposed(STUB, aim="switched-sidings")
    assert found.right
    assert (found.design.joiners, found.design.feeds) == (0, 2)
    layout = read(found.text)
    assert {(e.pieces, e.when) for e in layout.expectations} == {
        (("siding",), (("T1", "through"),)),
        (("branch",), (("T1", "diverging"),)),
    }


def test_the_keyboard_ends_the_search_with_the_best_so_far(monkeypatch):
    calls = []

    def checked(*args, **options):
        calls.append(1)
        if len(calls) > 1:
            raise KeyboardInterrupt
        return check(*args, **options)

    monkeypatch.setattr("netlister.propose.trial.check", checked)
    found = proposed(PASSING, aim="no-blades")
    assert found.right
    assert not found.stopped  # one check was enough
    found = proposed(PASSING, aim="no-blades")
    assert found.stopped
    assert not found.right
    assert "stopped before this was checked" in found.missing[-1]
    monkeypatch.undo()
    assert not wrong_by_enumeration(found.text)


@pytest.mark.parametrize("text", [branch_line(50), double_ended_yard(26)])
def test_fifty_turnouts_with_proof(text):
    """Within the limit of every day; the benchmarks say how long that takes."""
    stripped = dump(bare(yaml.load(text, yaml.BaseLoader)))  # noqa: S506
    found = proposed(stripped)
    assert found.right
    assert not found.stopped
    assert found.bound == found.cost


def test_a_frog_that_is_joined_to_one_over_its_blades_needs_no_contact_of_its_own():
    """A crossing whose one frog stays joined to that of the turnout that leads to it, and moves with it."""
    data = bare(yaml.load((EXAMPLES / "junction" / "layout.yaml").read_text(encoding="utf-8"), yaml.BaseLoader))  # noqa: S506
    found = proposed(dump(data))
    assert found.right
    assert (found.design.joiners, found.design.feeds, found.design.contacts, found.cost) == (5, 8, 1, 15)
    assert not wrong_by_enumeration(found.text)
    kept = proposed(dump(data), aim="no-blades")
    assert kept.right
    assert kept.design.contacts == 3
    assert not check(read(kept.text), select=["blade-fed"]).findings
