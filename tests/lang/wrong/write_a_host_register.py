# wanted: limit is a HostReg of access "rw": the host writes it, and a register
# advice: Declare it with access="ro" if the design shall write it, or use a
from simkit.lang import *


class Wrong(Design):
    limit = HostReg(unsigned(8))

    @clocked
    def go(self):
        self.limit = 1  # <-
