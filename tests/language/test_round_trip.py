"""Written down and read back, a circuit is the same circuit and the same text."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buzzout.language import load
from buzzout.language.write import written

SOCKETS = ["socket V1 B9A ECC83 or 7025", "socket V2 octal 6V6GT", "socket V3 B9A"]
OTHERS = [
    "strip TS1 6 tags",
    "pot P1 500k 20% log tapped switched",
    "pot P2 1M lin ganged set 12.5%",
    "switch S1 2 poles 3 ways set 2",
    "switch S2 on-off",
    "jack J1 tip ring sleeve break",
    "transformer T1",
    "winding T1 primary 0 210 230 0-210-230V dcr 20R+3R",
    "winding T1 ht red1 red/yellow red2 270-0-270V 80mA dcr 120R+125R",
    "winding T1 out blue brown 30H load 8k dot blue",
    "choke L1 10H 200R 80mA",
    "can C20 square 32u 450V triangle 16u 450V",
    "fuse F1 1A slow",
    "lamp PL1 6.3V 0.3A",
    "speaker LS1 15R field 1k",
    "connector SK1 4 pins",
    "cord M1 L brown N blue E green/yellow",
    "bond PE1",
]
POINTS = [f"V1.{n}" for n in range(1, 10)] + [f"V2.{n}" for n in range(1, 9)]
POINTS += ["TS1.1", "TS1.2", "P1.wiper", "P1.tap", "T1.red/yellow", "C20.square", "J1.tip"]
POINTS += ["chassis", "PE1", "HT1", "SK1.4", "S1.b3", "LS1.field2", "M1.E"]

points = st.sampled_from(POINTS)
values = st.sampled_from(["1k", "4k7", "100k 10%", "1M 0.5W", "470R 5% 2W wirewound", "118.37k"])
farads = st.sampled_from(["22n", ".022 400V", "0.1 mfd 10%", "100 mmf mica", "4n7 X2"])
parts = st.one_of(
    st.tuples(st.just("resistor"), values),
    st.tuples(st.just("resistor"), st.just("bands brown black yellow silver reads 118k")),
    st.tuples(st.just("resistor"), st.just('22k reads 9k1 in-circuit note "hot"')),
    st.tuples(st.just("resistor"), st.just("body green end blue dot orange ring gold")),
    st.tuples(st.just("capacitor"), farads),
    st.tuples(st.just("capacitor"), st.just("dots red green black")),
    st.tuples(st.just("inductor"), st.just("190uH dcr 3R")),
    st.tuples(st.just("capacitor"), st.just('marked "103K"')),
    st.tuples(st.just("inductor"), st.sampled_from(["10mH", "2.5H"])),
    st.tuples(st.just("electrolytic"), st.sampled_from(["25u 25V", "8 450V", "32u 450V optional"])),
    st.tuples(st.just("diode"), st.sampled_from(["1N4007", "type OA81"])),
)
SIGNS = {"electrolytic": ("+", "-"), "diode": ("k", "a")}


@st.composite
def drawings(draw):
    lines = ['reference "generated"', "mains 230 V 50 Hz region UK", *SOCKETS, *OTHERS, "node HT1"]
    for number, (kind, facts) in enumerate(draw(st.lists(parts, max_size=12)), 1):
        a, b = draw(points), draw(points)
        plus, minus = SIGNS.get(kind, ("", ""))
        if draw(st.booleans()):
            lines.append(f"X{number} {kind} {facts} {a} {plus} {b} {minus}")
        else:
            lines.append(f"X{number} {kind} {facts}")
            end = {"electrolytic": "+", "diode": "k"}.get(kind, "1")
            lines.append(f"node X{number}.{end} {a}")
    for a, b in draw(st.lists(st.tuples(points, points), max_size=6)):
        lines.append(
            draw(st.sampled_from(["wire green {} {}", "wire {} {}", "node {} {}"])).format(a, b)
        )
    lines.append("expect V1.1 168 V meter 20k/V mains 240 V 10%")
    lines.append("expect V1.2 to V1.3 -1.5 V 10%")
    lines += [
        "reads V1.3 1k5",
        "step 5 meter 20k/V mains 228 V",
        "reads V1.1 138 V",
        "reads V2.8 open",
        "reads V2.7 -0.35 V",
    ]
    lines += ["reads V1.1 141 V meter 10M mains 230 V", "step 0", "reads V2.3 to V2.1 20 V ac"]
    lines += ["tone V1.2 5mV 1000Hz", "reads V1.1 250 mV ac", "reads V1.3 1.2V", "tone off"]
    lines += ["reads V1.1 3mV ac"]
    return "\n".join(lines) + "\n"


def nodes(circuit):
    return {frozenset(node.points) for node in circuit.nodes}


@given(drawings())
@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
def test_write_and_read_gives_the_same_circuit_and_the_same_text(tmp_path_factory, text):
    path = tmp_path_factory.mktemp("trip") / "it.buzz"
    path.write_text(text, encoding="utf-8")
    first = load(path)
    assert first.ok, [p.message for p in first.problems]
    once = written(first.circuit)
    path.write_text(once, encoding="utf-8")
    second = load(path)
    assert second.ok, [(p.message, once) for p in second.problems]
    assert dict(second.circuit.parts) == dict(first.circuit.parts)
    assert nodes(second.circuit) == nodes(first.circuit)
    assert second.circuit.expected == first.circuit.expected
    assert second.circuit.mains == first.circuit.mains
    assert written(second.circuit) == once


def test_readings_with_pots_that_were_turned_come_back(tmp_path):
    lines = [
        'found "r"', "pot P1 22k lin", "pot P2 1M log", "socket V1 B9A ECC83", "reads V1.3 1.2 V",
        "step 5 mains 228 V", "set P1 25% P2 12,5%", "reads V1.3 1.3 V", "set P2 0%",
        "reads V1.3 1k5", "step 6", "reads V1.3 1.5 V",
    ]  # fmt: skip
    path = tmp_path / "it.found.buzz"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    first = load(path).sound().circuit
    path.write_text(written(first), encoding="utf-8")
    second = load(path).sound().circuit
    assert second.readings == first.readings
    assert written(second) == written(first)
    before, after = (("P1", "25%"), ("P2", "12.5%")), (("P1", "25%"), ("P2", "0%"))
    assert [r.turned for r in first.readings] == [(), before, after, after]
