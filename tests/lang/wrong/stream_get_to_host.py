# wanted: log is a stream "to_host": this side of it belongs to the host.
# advice: Here a loop may only put.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    log = HostStream(unsigned(8), 16)

    @sequenced
    def go(self):
        v = self.log.get()  # <-
        self.n = v
