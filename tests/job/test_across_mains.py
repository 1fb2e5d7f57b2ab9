"""A capacitor that stands at mains voltage is one made for it (IEC 60384-14)."""

import pytest
from small_set import changed

from buzzout.job.judge import judged


@pytest.mark.parametrize("ends", ["M1.L M1.N", "S1.a1 T1.0", "T1.210 T1.230", "S1.a S1.a1"])
@pytest.mark.parametrize(
    ("rated", "told"), [("400V paper", 1), ("250V", 1), ("275V X2", 0), ("250V Y2", 0)]
)
def test_a_capacitor_across_the_mains_has_a_class(circuit, ends, rated, told):
    lead = "wire M1.L F1.1"
    more = f"{lead}\nC90 capacitor 100n {rated} {ends}"
    found = [
        v for v in judged(circuit(changed((lead, more)))).violations if v.kind == "across-mains"
    ]
    assert len(found) == told
    for each in found:
        assert each.level == "danger"
        assert each.text.startswith("C90 lies across the mains, and no mains class")


def test_one_behind_the_transformer_is_not_asked_for_a_class(circuit):
    lead = "wire M1.L F1.1"
    more = f"{lead}\nC90 capacitor 100n 630V T1.red1 T1.red2\nC91 capacitor 10n V1.2 chassis"
    kinds = {v.kind for v in judged(circuit(changed((lead, more)))).violations}
    assert "across-mains" not in kinds
