# wanted: f is sfixed(3, -12) and the value is sfixed(4, -27): 15 fraction bits
# advice: Write resize(x, sfixed(3, -12)), which rounds and saturates, or add
from simkit.lang import *


GAIN = const(0.1, sfixed(0, -15))


class Wrong(Design):
    f = Reg(sfixed(3, -12))

    @clocked
    def go(self):
        self.f = self.f * GAIN  # <-
