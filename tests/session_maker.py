"""The script that makes the invented day, loaded for tests that need another pull of its hidden machine."""

import importlib.util
import sys
from functools import cache
from pathlib import Path
from types import ModuleType

SCRIPT = Path(__file__).parents[1] / "examples" / "make_demo_session.py"


@cache
def session_maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_demo_session", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up
    spec.loader.exec_module(module)
    return module
