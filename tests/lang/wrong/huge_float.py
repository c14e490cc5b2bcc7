# wanted: n is unsigned(8): 1e+308 does not fit unsigned(8), which holds 0 to 255.
# advice: Take a type that reaches further, such as unsigned(1024).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = 1e308  # <-
