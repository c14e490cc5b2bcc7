"""The kinds of answers that an exercise may ask for, by one name: ``answers.Number(unit="us")``."""

from .kinds import Array, Design, Kind, NotDone, Number, Port, Record, Text, WrongKind
from .programs import Function, Program

__all__ = ["Array", "Design", "Function", "Kind", "NotDone", "Number", "Port", "Program", "Record", "Text", "WrongKind"]
