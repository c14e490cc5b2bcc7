# wanted: accel.read() takes ticks, and a clocked loop has just one.
# advice: Use a sequenced loop; in a clocked loop channels offer .valid and
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    accel = AnalogIn("fan A bearing")

    @clocked
    def go(self):
        v = self.accel.read()  # <-
        self.n = bits(v, 7, 0)
