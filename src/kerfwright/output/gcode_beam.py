"""How the two dialects switch the beam."""

from __future__ import annotations

from typing import Protocol

from kerfwright.shop.machine import Dialect


class Beam(Protocol):
    """How one dialect switches the beam."""

    def start(self) -> tuple[str, ...]:
        """Lines before anything moves."""
        ...

    def end(self) -> tuple[str, ...]:
        """Lines behind the last move."""
        ...

    def switch(self, power: str) -> tuple[str, str]:
        """Line to write before a move that burns at ``power``, and the power word of the move.

        "0" is a move that does not burn; what need not be written is an empty string.
        """
        ...

    def pierce(self, power: str, seconds: str, feed: str) -> tuple[str, ...]:
        """Lines that stand with the beam on before a move that burns at ``power``."""
        ...


class GrblType:
    """Laser mode: M4 once, the power as an S word of the move, in proportion to the real speed.

    S0 is written on travel too, although laser mode keeps the beam off there: the program stays
    safe on a controller whose laser mode somebody has switched off.
    """

    def __init__(self) -> None:
        self._power = "0"

    def start(self) -> tuple[str, ...]:
        """Beam off, then laser mode at no power."""
        return ("M5 S0", "M4 S0")

    def end(self) -> tuple[str, ...]:
        """Beam off, end of program."""
        return ("M5 S0", "M2")

    def switch(self, power: str) -> tuple[str, str]:
        """Write an S word in the move, left out where unchanged."""
        if power == self._power:
            return "", ""
        self._power = power
        return "", f" S{power}"

    def pierce(self, power: str, seconds: str, feed: str) -> tuple[str, ...]:
        """Stand in M3: in M4 the beam is dark at standstill, in G0 it is dark in either."""
        self._power = power
        return (f"G1 F{feed} M3 S{power}", f"G4 P{seconds}", "M4")


class PlainNgc:
    """No laser mode: M3 before burns and M5 before every other move, on lines of their own."""

    def __init__(self) -> None:
        self._power = "0"

    def start(self) -> tuple[str, ...]:
        """Beam off."""
        return ("M5 S0",)

    def end(self) -> tuple[str, ...]:
        """Beam off, end of program."""
        return ("M5 S0", "M2")

    def switch(self, power: str) -> tuple[str, str]:
        """Switch the beam on a line of its own where the move needs it otherwise than it is."""
        if power == self._power:
            return "", ""
        self._power = power
        return ("M5" if power == "0" else f"M3 S{power}"), ""

    def pierce(self, power: str, seconds: str, feed: str) -> tuple[str, ...]:
        """Stand with the beam on, which it stays for the move."""
        del feed
        self._power = power
        return (f"M3 S{power}", f"G4 P{seconds}")


def beam_of(dialect: Dialect) -> Beam:
    """How a dialect switches the beam."""
    return PlainNgc() if dialect is Dialect.RS274_NGC else GrblType()
