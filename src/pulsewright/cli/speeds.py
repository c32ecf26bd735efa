"""Engine speeds as they are typed: `1500:6000:250`, `2000,3000` or `3000`."""

import math

from pulsewright.errors import UsageError

LOWEST, HIGHEST = 100.0, 20_000.0  # [rpm]
MOST = 400  # speeds in one run
FORMS = "write --rpm 1500:6000:250 (from, to, step), 2000,2500,3000 or one number"


def parse_speeds(text: str) -> list[float]:
    """The engine speeds of a `--rpm`, in the order typed, each once. [rpm]

    A range takes its end in where a step meets it. Raises UsageError.
    """
    if ":" in text:
        return _range(text)
    speeds = [_speed(part, text) for part in text.split(",")]
    if len(speeds) > MOST:
        raise _too_many(len(speeds))
    return list(dict.fromkeys(speeds))


def _range(text: str) -> list[float]:
    parts = text.split(":")
    if len(parts) != 3:
        raise _error(f"'{text}' is no range of engine speeds")
    low, high = _speed(parts[0], text), _speed(parts[1], text)
    step = _number(parts[2], text)
    if high < low:
        raise _error(f"the range {text} runs from {low:g} down to {high:g} rpm", "write the lower speed first")
    if not step > 0.0:
        raise _error(f"the step of {text} is {step:g} rpm; it must be above 0")
    count = math.floor((high - low) / step + 1e-9) + 1
    if count > MOST:
        raise _too_many(count)
    return [low + n * step for n in range(count)]


def _speed(part: str, text: str) -> float:
    speed = _number(part, text)
    if not LOWEST <= speed <= HIGHEST:
        raise _error(f"{speed:g} rpm is no engine speed; {LOWEST:g} to {HIGHEST:g} is allowed")
    return speed


def _number(part: str, text: str) -> float:
    try:
        number = float(part)
    except ValueError:
        raise _error(f"'{part.strip()}' in '{text}' is no number") from None
    if not math.isfinite(number):
        raise _error(f"'{part.strip()}' in '{text}' is no number")
    return number


def _too_many(count: int) -> UsageError:
    return _error(f"{count} engine speeds are too many; {MOST} is the most", "take a larger step")


def _error(what: str, hint: str = FORMS) -> UsageError:
    return UsageError(what, where="--rpm", hint=hint)
