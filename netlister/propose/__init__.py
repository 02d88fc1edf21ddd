"""From bare track to a wiring that is proved right: joints, feeds, contacts and reversers, at the least price."""
