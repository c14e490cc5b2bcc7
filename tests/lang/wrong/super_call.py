# wanted: super() is not part of the language.
# advice: Give the inherited operation a name of its own and call that. Called:
from simkit.lang import *


class Base(Design):
    n = Reg(unsigned(8))

    @operation
    def step(self, x):
        return x + 1


class Wrong(Base):
    @operation
    def step(self, x):
        return super().step(x) + 1  # <-

    @clocked
    def go(self):
        self.n = self.step(self.n)
