# wanted: accel belongs to the fabric clock and look runs on another one.
# advice: Carry the value across with a Synchronizer, a Handshake or a Fifo.
from simkit.lang import *


class Wrong(Design):
    fast = Clock(100_000_000)
    accel = AnalogIn("fan A bearing")
    n = Reg(signed(24))

    @clocked(clock=fast)
    def look(self):
        self.n = self.accel.value  # <-
