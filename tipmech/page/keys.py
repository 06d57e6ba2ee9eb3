"""Keys of the page and what they ask for. Letters, because arrows belong to the sliders."""

HELD = {"a": "advance", "w": "withdraw", "t": "turn_left"}
SHIFTED = {"t": "turn_right"}
ONCE = {"b": "back", "r": "reset", "s": "rest"}
HELD_STEPS = frozenset({*HELD.values(), *SHIFTED.values()})
EVERYWHERE = ("s",)  # taken with the focus in a field too: fields hold numbers, and rest must be within reach
KEYS = "A advance, W withdraw, T turn left, Shift+T turn right, while they are held; B back 1 mm, R reset, S rest"


def of_key(name: str, *, shift: bool) -> str | None:
    """What a key asks for: a kind of increment while it is held, or back, reset, rest; None: nothing."""
    letter = name.lower()
    if shift and letter in SHIFTED:
        return SHIFTED[letter]
    return HELD.get(letter) or ONCE.get(letter)
