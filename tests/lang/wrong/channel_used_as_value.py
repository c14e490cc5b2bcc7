# wanted: accel is an AnalogIn and has no value of its own.
# advice: It offers accel.valid, accel.value, accel.missed, accel.read(…).
from simkit.lang import *


class Wrong(Design):
    n = Reg(signed(24))
    accel = AnalogIn("fan A bearing")

    @clocked
    def go(self):
        self.n = self.accel + 1  # <-
