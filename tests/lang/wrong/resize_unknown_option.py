# wanted: resize(): got an unexpected keyword argument 'saturate'.
# advice: Write resize(x, kind, overflow=…, round=…).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = resize(self.n, unsigned(8), saturate=True)  # <-
