"""What README tells people to type exists."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("tool", ["start", "check"])
def test_readme_names_the_command_and_it_explains_itself(tool):
    assert f"python3 tools/{tool}.py" in (ROOT / "README.md").read_text(encoding="utf-8")
    command = [sys.executable, str(ROOT / "tools" / f"{tool}.py"), "--help"]
    result = subprocess.run(command, capture_output=True, text=True, check=False)
    assert result.returncode == 0
    assert result.stdout.startswith("usage:")


def test_every_tool_that_readme_names_exists():
    named = re.findall(r"\btools/\w+\.py", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert [name for name in named if not (ROOT / name).is_file()] == []
