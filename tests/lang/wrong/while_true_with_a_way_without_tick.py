# wanted: this while loop can come round again without a tick: it would have to
# advice: Put tick() (or another waiting operation) on every way through the body.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        while True:  # <-
            if self.lamp:
                tick()
            self.n = self.n + 1
