"""What `buzzout.electrics` promises is there, and its modules are imported on demand."""

import subprocess
import sys
from pathlib import Path

from buzzout import electrics


def test_every_name_is_to_be_had():
    told = {name for names in electrics._ROOMS.values() for name in names.split()}
    assert told == set(electrics.__all__)
    assert [name for name in told if not hasattr(electrics, name)] == []


def test_no_name_is_that_of_a_module():
    folder = Path(electrics.__file__).parent
    assert not set(electrics.__all__) & {path.stem for path in folder.glob("*.py")}


def test_the_room_itself_is_light():
    told = subprocess.run(
        [sys.executable, "-c", "import sys, buzzout.electrics; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert "buzzout.electrics.charts" not in told.stdout.split()
