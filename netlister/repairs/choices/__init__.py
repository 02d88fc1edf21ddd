"""What may have been done wrong at each place of a layout, each with what undoes it: a file for each kind of entry."""

from netlister.repairs.choices.index import Choices as Choices
