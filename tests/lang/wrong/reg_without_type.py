# wanted: Reg needs a type, not 8.
# advice: Write for example unsigned(8), signed(16), sfixed(3, -12) or bit.
from simkit.lang import *


class Wrong(Design):
    n = Reg(8)  # <-

    @clocked
    def go(self):
        self.n = self.n + 1
