"""How often the true fault is named: python bench/diagnosis.py [way] [cases] [seed].

Each case is a specimen of the hall amplifier with parts anywhere inside their tolerance and one
planted fault, solved without our electrics, read with a 3 1/2 digit meter of 10 Mohm. Ways:

guided   six usual points, then what the diagnosis asks for, ten readings at most
rail     ten readings, whatever they show: the HT rail and every cathode
anodes   ten readings, whatever they show: the HT rail and every anode
pairs    guided, with two planted faults
mains    guided, with a fault of the mains side: lead, fuse, switch, windings, heaters, rectifier
hum      guided, with a reservoir or smoothing capacitor dried out
tone     guided, with an open or dry capacitor and a test tone; six levels first
"""

import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "outside"))
import planted_mains
from planted_faults import (
    ANODES,
    RAIL_AND_CATHODES,
    Asked,
    both,
    charted,
    guided,
    joints_of,
    rank,
    thought_of,
)

from buzzout.language import read

WAYS = {
    "guided": guided,
    "rail": lambda asked, one: charted(asked, one, RAIL_AND_CATHODES),
    "anodes": lambda asked, one: charted(asked, one, ANODES),
    "mains": planted_mains.guided,
    "hum": planted_mains.guided,
    "tone": planted_mains.guided,
}
MADE = {"mains": planted_mains.Mains, "hum": planted_mains.Humming, "tone": planted_mains.Toned}


def singles(asked, specimens, ask):
    """One planted fault each: the place of the true one."""
    places, kinds, readings, cases = Counter(), defaultdict(Counter), [], 0
    place_of = planted_mains.rank if ask is planted_mains.guided else rank
    for number, one in specimens:
        told = ask(asked, one)
        place = place_of(told, one.planted)
        places[place] += 1
        kinds[one.planted.kind][place] += 1
        readings.append(len(told.readings))
        cases += 1
        if place != 1:
            best = told.explanations[0].words
            print(f"{number:4d}  {one.planted}  place {place or '-'}  first: {best[:90]}")
    three = sum(places[n] for n in (1, 2, 3))
    print(f"first {places[1] / cases:.1%}   in the first three {three / cases:.1%}   of {cases}")
    print(f"readings: {min(readings)} to {max(readings)}, mean {np.mean(readings):.1f}")
    for kind, own in sorted(kinds.items()):
        count = sum(own.values())
        three = sum(own[n] for n in (1, 2, 3))
        print(f"  {kind:16s} {count:4d}  first {own[1] / count:.0%}  three {three / count:.0%}")


def pairs(asked, specimens):
    """Two planted faults each: whether one or both of them are named on the first three lines."""
    count, cases = Counter(), 0
    for number, one in specimens:
        told = guided(asked, one)
        named, whole = both(told, one.planted, one.also)
        count["both on one line"] += whole
        count["both"] += named == 2
        count["at least one"] += named >= 1
        count["first line names one"] += both(told, one.planted, one.also, 1)[0] >= 1
        count["told that nothing explains it well"] += not told.explained
        cases += 1
        print(
            f"{number:4d}  {one.planted.kind} {one.planted.thing[:30]} and {one.also.kind}"
            f" {one.also.thing[:30]}: {named} named; first: {told.explanations[0].words[:60]}"
        )
    for words, hits in count.items():
        print(f"{words:36s} {hits / cases:.1%} of {cases}")


def main(way="guided", cases="300", seed="1"):
    hall = read("examples/hall-amplifier/hall-amplifier.reference.buzz")
    began = time.perf_counter()
    asked = thought_of(hall, [planted_mains.SOURCE] if way == "tone" else ())
    print(f"{len(asked.faults)} faults thought of in {time.perf_counter() - began:.1f} s")
    joints = joints_of(asked)
    made = MADE.get(way)

    def one(number):
        rng = np.random.default_rng([int(seed), number])
        return made(hall, rng) if made else Asked(hall, rng, joints, way == "pairs")

    specimens = ((n, one(n)) for n in range(int(cases)))
    if way == "pairs":
        pairs(asked, specimens)
    else:
        singles(asked, specimens, WAYS[way])


if __name__ == "__main__":
    main(*sys.argv[1:])
