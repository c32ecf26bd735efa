"""Dials: what can be turned on a machine, what comes out, and what is refused."""

import pytest

from pulsewright.bench.changes import changed_text
from pulsewright.bench.exhaust import CrossBolt, Disc, Insert, Muffler, Pipe, Plate
from pulsewright.bench.session import read_session
from pulsewright.bench.sheet import setup_from_text
from pulsewright.demo.copy_session import SESSION
from pulsewright.errors import InputError, UsageError
from pulsewright.physics.obstacle_losses import plate_blocked_fraction
from pulsewright.remedies.candidates import Machine, setup_hash
from pulsewright.remedies.catalogue import general_catalogue
from pulsewright.remedies.dials import NOTHING, dialled, dials_of

CATALOGUE = general_catalogue()


@pytest.fixture(scope="module")
def day():
    return read_session(SESSION)


def machine(day, name: str) -> Machine:
    setup = day.setup(name)
    return Machine(name=name, text=setup.text, setup=setup.setup)


def pipes(state, cylinder: int = 1) -> list[Pipe]:
    return [piece for piece in state.setup.exhaust.route[cylinder] if isinstance(piece, Pipe)]


def test_every_dial_begins_where_the_machine_is(day):
    for name in ("A", "B", "C"):
        here = machine(day, name)
        values = {dial.name: dial.value for dial in dials_of(here.setup, CATALOGUE)}
        state = dialled(here, values, CATALOGUE)
        assert state.options == ()
        assert setup_hash(state.setup) == setup_hash(here.setup)


def test_a_dial_holds_what_the_sheet_says(day):
    found = {dial.name: dial for dial in dials_of(day.setup("B").setup, CATALOGUE)}
    assert found["pipe-length"].value == pytest.approx(0.900)
    assert found["pipe-bore"].value == pytest.approx(0.043)
    assert found["main-jet"].value == pytest.approx(0.00185)
    assert found["end-piece"].value == NOTHING
    assert all(dial.low <= dial.value <= dial.high for dial in found.values() if isinstance(dial.value, float))


def test_length_and_bore_reach_every_pipe(day):
    state = dialled(machine(day, "A"), {"pipe-length": 0.750, "pipe-bore": 0.046}, CATALOGUE)
    for cylinder in (1, 2):
        (pipe,) = pipes(state, cylinder)
        assert pipe.length == pytest.approx(0.750)
        assert (pipe.bore_in, pipe.bore_out) == (pytest.approx(0.046), pytest.approx(0.046))
    assert "150 mm shorter" in state.words


@pytest.mark.parametrize(
    ("values", "kind"),
    [
        ({"end-piece": "cross-bolt", "bolt-diameter": 0.010}, CrossBolt),
        ({"end-piece": "disc", "disc-open": 0.6}, Disc),
        ({"end-piece": "insert", "insert-length": 0.25}, Insert),
        ({"muffler": 0.30}, Muffler),
    ],
)
def test_a_piece_is_put_into_the_end(day, values: dict, kind: type):
    state = dialled(machine(day, "A"), values, CATALOGUE)
    (piece,) = [p for p in state.setup.exhaust.route[2] if isinstance(p, kind)]
    wanted = next(value for value in values.values() if isinstance(value, float))
    sizes = {CrossBolt: "diameter", Disc: "open_area_fraction", Insert: "length", Muffler: "body_length"}
    assert getattr(piece, sizes[kind]) == pytest.approx(wanted)


def test_a_plate_has_the_share_and_the_angle_that_were_dialled(day):
    state = dialled(machine(day, "A"), {"end-piece": "plate", "plate-blocks": 0.3, "plate-angle": 60.0}, CATALOGUE)
    (plate,) = [p for p in state.setup.exhaust.route[1] if isinstance(p, Plate)]
    assert plate_blocked_fraction(plate.width / 0.043, 90.0) == pytest.approx(0.3, abs=2e-3)
    assert plate.angle_deg == 60.0


def test_a_plate_that_is_there_is_turned_moved_on_and_taken_out(day):
    here = machine(day, "C")
    (turned,) = [
        p for p in dialled(here, {"plate-angle": 30.0}, CATALOGUE).setup.exhaust.route[1] if isinstance(p, Plate)
    ]
    assert (turned.angle_deg, turned.width) == (30.0, pytest.approx(0.012))
    bare = dialled(here, {"end-piece": NOTHING}, CATALOGUE)
    assert setup_hash(bare.setup) == setup_hash(day.setup("A").setup)
    bolt = dialled(here, {"end-piece": "cross-bolt"}, CATALOGUE).setup.exhaust.route[1]
    assert [p.piece for p in bolt] == ["pipe", "cross-bolt", "end"]


def test_a_jet_snaps_to_the_kit(day):
    state = dialled(machine(day, "A"), {"main-jet": 0.001862}, CATALOGUE)
    assert state.setup.carburettors[0].main_jet == pytest.approx(0.00185)


def test_ignition_and_stack(day):
    state = dialled(machine(day, "A"), {"ignition": 2.0, "stack": 0.100}, CATALOGUE)
    before = day.setup("A").setup.ignition.advance
    assert [b - a for (_, a), (_, b) in zip(before, state.setup.ignition.advance, strict=True)] == [2.0] * len(before)
    assert state.setup.intake.before_carburettor[0].length == pytest.approx(0.100)


def test_its_rows_make_the_same_machine_again(day):
    from pulsewright.bench.changes import changed_text
    from pulsewright.bench.sheet import setup_from_text

    here = machine(day, "A")
    state = dialled(here, {"pipe-length": 0.8, "end-piece": "plate", "main-jet": 0.0018}, CATALOGUE)
    again = setup_from_text(changed_text(here.text, state.rows), "again", name="A", lines=False)
    assert setup_hash(again) == setup_hash(state.setup)


@pytest.mark.parametrize(
    ("values", "complaint"),
    [
        ({"pipe-lenght": 0.8}, "no dial"),
        ({"pipe-length": 9.0}, "cannot be"),
        ({"pipe-length": "long"}, "cannot be"),
        ({"end-piece": "rag"}, "no choice"),
        ({"ignition": float("nan")}, "cannot be"),
    ],
)
def test_what_is_no_dial_or_no_value_is_refused(day, values: dict, complaint: str):
    with pytest.raises(UsageError, match=complaint):
        dialled(machine(day, "A"), values, CATALOGUE)


def test_a_pipe_shorter_than_to_its_sensor_is_refused_by_the_sheet(day):
    text = day.setup("A").text.replace('lambda_sensor.1 = "280 mm"', 'lambda_sensor.1 = "800 mm"')
    from pulsewright.bench.sheet import setup_from_text

    here = Machine(name="A", text=text, setup=setup_from_text(text, "test"))
    with pytest.raises(InputError):
        dialled(here, {"pipe-length": 0.500}, CATALOGUE)


PIPE = {"piece": "pipe", "length": "600 mm", "bore": "43 mm"}
SILENCER = {
    "piece": "muffler",
    "body_length": "400 mm",
    "body_bore": "98 mm",
    "core_bore": "40 mm",
    "core": "louvred",
}
TAIL = {"piece": "pipe", "length": "150 mm", "bore": "40 mm"}
END = {"piece": "end", "kind": "open"}


@pytest.mark.parametrize(
    ("pieces", "title", "told"),
    [
        ([PIPE, END], "pipe length", "pipes 50 mm longer"),
        ([PIPE, SILENCER, TAIL, END], "length of the pipe behind the muffler", "pipe behind the muffler 50 mm longer"),
        ([PIPE, TAIL, END], "length of the pipe at the end", "pipe at the end 50 mm longer"),
    ],
)
def test_the_length_dial_says_which_pipe_it_moves(day, pieces: list, title: str, told: str):
    here = machine(day, "A")
    text = changed_text(here.text, [(f"exhaust.route.{n}", pieces) for n in (1, 2)])
    other = Machine(name="A", text=text, setup=setup_from_text(text, "the sheet", name="A", lines=False))
    dial = next(d for d in dials_of(other.setup, CATALOGUE) if d.name == "pipe-length")
    assert dial.title == title
    last = pipes(other)[-1]
    assert dial.value == pytest.approx(last.length)
    state = dialled(other, {"pipe-length": last.length + 0.05}, CATALOGUE)
    assert state.words == told
    assert pipes(state)[-1].length == pytest.approx(last.length + 0.05)
    assert pipes(state)[:-1] == pipes(other)[:-1]


def test_the_length_dial_of_a_collector_says_so(day):
    here = machine(day, "A")
    join = {"piece": "join", "into": "collector 1"}
    rows = [*((f"exhaust.route.{n}", [PIPE, join]) for n in (1, 2)), ("exhaust.after.collector 1", [TAIL, END])]
    text = changed_text(here.text, rows)
    dials = dials_of(setup_from_text(text, "the sheet", name="A", lines=False), CATALOGUE)
    assert "length of the pipe behind the collector" in [dial.title for dial in dials]
