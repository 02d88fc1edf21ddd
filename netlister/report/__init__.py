"""A layout as one page for a browser: its findings, its plan with turnouts to throw, a meter and a train to push."""
