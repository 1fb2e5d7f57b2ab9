"""How often the true fault is named: python bench/diagnosis.py [cases] [seed].

Each case is a specimen of the hall amplifier with parts anywhere inside their tolerance and one
planted fault, solved without our electrics, read with a 3 1/2 digit meter of 10 Mohm: six usual
points, then what the diagnosis asks for, ten readings at most.
"""

import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "outside"))
from planted_faults import Asked, guided, joints_of, rank

from buzzout.bench.case import case
from buzzout.electrics.operating import operate
from buzzout.language import read


def main(cases=300, seed=1):
    hall = read("examples/hall-amplifier/hall-amplifier.reference.buzz")
    began = time.perf_counter()
    asked = case(operate(hall))
    print(f"{len(asked.faults)} faults computed in {time.perf_counter() - began:.1f} s")
    joints = joints_of(asked)
    places, kinds, readings = Counter(), defaultdict(Counter), []
    for number in range(cases):
        one = Asked(hall, np.random.default_rng([seed, number]), joints)
        told = guided(asked, one)
        place = rank(told, one.planted)
        places[place] += 1
        kinds[one.planted.kind][place] += 1
        readings.append(len(told.readings))
        if place != 1:
            best = told.explanations[0].words
            print(f"{number:4d}  {one.planted}  place {place or '-'}  first: {best[:90]}")
    three = sum(places[n] for n in (1, 2, 3))
    print(f"first {places[1] / cases:.1%}   in the first three {three / cases:.1%}   of {cases}")
    print(f"readings: {min(readings)} to {max(readings)}, mean {np.mean(readings):.1f}")
    for kind, own in sorted(kinds.items()):
        print(f"  {kind:8s} {sum(own.values()):4d}  first {own[1] / sum(own.values()):.0%}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
