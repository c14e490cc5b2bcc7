# wanted: HostStream: direction is 'up'.
# advice: Write "to_host" or "from_host".
from simkit.lang import *


class Wrong(Design):
    log = HostStream(unsigned(8), 16, "up")  # <-

    @clocked
    def go(self):
        self.log.try_put(1)
