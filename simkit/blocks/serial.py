"""Serial lines: asynchronous (UART) and clocked (SPI)."""

from __future__ import annotations

from typing import Any

from ..lang import Design, Reg, bits, cat, operation, sequenced, unsigned, until, wait


def divider_of(divider: int, least: int, what: str) -> int:
    """Ticks per bit, checked."""
    if not least <= divider <= 2**24:
        raise ValueError(f"{what}: divider is {divider}; {least} to 2**24 ticks per bit are possible")
    return divider


class UartSender(Design):
    """Sends bytes on a line: start bit, 8 data bits lowest first, one stop bit.

    Takes words from ``words`` (a Fifo or HostStream of unsigned(8)) and drives ``line`` (a DigitalOut with reset=1), 10
    ``divider`` ticks a byte, without pauses while there are words.

    Parameters
    ----------
    line, words : of the design that contains this block
    divider : ticks per bit, 4 to 2**24; see :func:`simkit.dsp.uart_divider`
    """

    def __init__(self, line: Any, words: Any, divider: int) -> None:
        self.line, self.words = line, words
        self.ticks = divider_of(divider, 4, "UartSender")

    @sequenced
    def send(self):
        rest = self.words.get()
        self.line = 0
        wait(self.ticks)
        for _ in range(8):
            self.line = rest[0]
            rest = rest >> 1
            wait(self.ticks)
        self.line = 1
        wait(self.ticks - 2)  # the end of the turn and taking the next word cost one tick each


class UartReceiver(Design):
    """Receives bytes from a line, each bit sampled once in its middle.

    Puts words into ``words`` (a Fifo or HostStream of unsigned(8)); ``errors`` counts frames whose stop bit was 0 (they
    are dropped) and ``lost`` words for which there was no room.  Counts stop at 65535.

    The two sides' clocks may differ by about 5 % (:func:`simkit.dsp.uart_tolerance`), less the 1 / ``divider`` with
    which the start edge is noticed.

    Parameters
    ----------
    line, words : of the design that contains this block; the line is a DigitalIn with its synchroniser
    divider : ticks per bit, 8 to 2**24
    """

    errors = Reg(unsigned(16))
    lost = Reg(unsigned(16))

    def __init__(self, line: Any, words: Any, divider: int) -> None:
        self.line, self.words = line, words
        self.ticks = divider_of(divider, 8, "UartReceiver")

    @sequenced
    def receive(self):
        until(not self.line)
        wait(self.ticks // 2 - 1)
        if not self.line:  # still low in the middle: a start bit and no glitch
            byte = unsigned(8)(0)
            for _ in range(8):
                wait(self.ticks)
                byte = cat(unsigned(1)(self.line), bits(byte, 7, 1))
            wait(self.ticks)
            if not self.line:
                if self.errors != 65535:
                    self.errors = self.errors + 1
                until(self.line)
            elif not self.words.try_put(byte) and self.lost != 65535:
                self.lost = self.lost + 1


class SpiController(Design):
    """The controlling side of a clocked serial bus: highest bit first.

    ``exchange(word)`` pulls ``select`` to 0, sends ``word`` on ``out`` while it takes a word from ``inp``, lets
    ``select`` go, and returns the word received.  Latency (2 ``width`` + 2) ``half`` ticks (sequenced loops only).

    Parameters
    ----------
    clock, select, out, inp : lines of the design that contains this block; DigitalOut (select with reset=1) and
        DigitalIn
    width : bits per word, 2 to 64
    half : ticks in half a clock period; must be longer than the synchroniser of ``inp`` (2 ticks) plus the device's
        delay
    mode : 0 to 3: clock polarity (mode 2 and 3 rest at 1) and phase (mode 1 and 3 sample at the second edge)
    """

    def __init__(
        self, clock: Any, select: Any, out: Any, inp: Any, *, width: int = 8, half: int = 8, mode: int = 0
    ) -> None:
        if not 2 <= width <= 64 or not 4 <= half <= 2**16 or mode not in (0, 1, 2, 3):
            raise ValueError(
                f"SpiController: width {width}, half {half}, mode {mode}; 2 to 64 bits, 4 to 65536 ticks, mode 0 to 3"
            )
        self.clock, self.select, self.out, self.inp = clock, select, out, inp
        self.width, self.half = width, half
        self.rest = mode >> 1
        self.late = mode & 1

    @operation
    def exchange(self, word):
        shift = unsigned(self.width)(word)
        self.select = 0
        self.clock = self.rest
        if not self.late:
            self.out = shift[self.width - 1]
        wait(self.half)
        for _ in range(self.width):
            self.clock = not self.rest
            if self.late:
                self.out = shift[self.width - 1]
                wait(self.half)
                shift = cat(bits(shift, self.width - 2, 0), unsigned(1)(self.inp))
                self.clock = self.rest
                wait(self.half)
            else:
                shift = cat(bits(shift, self.width - 2, 0), unsigned(1)(self.inp))
                wait(self.half)
                self.clock = self.rest
                self.out = shift[self.width - 1]
                wait(self.half)
        self.select = 1
        wait(self.half)
        return shift
