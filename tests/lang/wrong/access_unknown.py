# wanted: HostReg: access is 'read'.
# advice: Write "rw" (the host writes) or "ro" (the design writes).
from simkit.lang import *


class Wrong(Design):
    limit = HostReg(unsigned(8), access="read")  # <-
    n = Reg(unsigned(8))

    @clocked
    def go(self):
        self.n = self.limit
