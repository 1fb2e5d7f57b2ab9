"""The notebook language: text to circuit and back, and what is wrong with the text."""

from buzzout.language.load import Loaded, load, read
from buzzout.language.problems import Problem, Unreadable, render

__all__ = ["Loaded", "Problem", "Unreadable", "load", "read", "render"]
