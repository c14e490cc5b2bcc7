# wanted: nothing can be assigned to accel: it is an AnalogIn.
# advice: It offers accel.valid, accel.value, accel.missed, accel.read(…).
from simkit.lang import *


class Wrong(Design):
    accel = AnalogIn("fan A bearing")

    @clocked
    def go(self):
        self.accel = 1  # <-
