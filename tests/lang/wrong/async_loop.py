# wanted: async is not part of the language.
# advice: Write def; wait with until(…) in a sequenced loop.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @sequenced  # <-
    async def go(self):
        self.n = self.n + 1
