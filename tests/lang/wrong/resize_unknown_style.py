# wanted: resize: overflow is 'clip'.
# advice: Write overflow="saturate" or overflow="wrap".
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = resize(self.n, unsigned(8), overflow="clip")  # <-
