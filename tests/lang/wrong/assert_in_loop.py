# wanted: hardware cannot stop with an error.
# advice: Set a bit that others can see, or check the recording in Python.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        assert self.n < 10  # <-
